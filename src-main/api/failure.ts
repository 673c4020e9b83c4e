import { ORPCError, ValidationError } from '@orpc/server'
import type { Log } from '#main/core/ports.ts'
import { AppError, type ErrorDetail } from '#shared/domain/errors.ts'

interface Issue {
  readonly message: string
  readonly path?: readonly (PropertyKey | { readonly key: PropertyKey })[] | undefined
}

/** Issues of a schema in one readable line: `plan.levels: A level is listed twice.` */
function issuesInWords(issues: readonly Issue[]): string {
  const lines = issues.slice(0, 5).map(({ path, message }) => {
    const where = (path ?? []).map((key) => String(typeof key === 'object' ? key.key : key)).join('.')
    return where === '' ? message : `${where}: ${message}`
  })
  if (issues.length > lines.length) lines.push(`and ${issues.length - lines.length} more.`)
  return lines.join(' ')
}

/** Every failure as the contract's one typed error. What is not an AppError is the program's own fault and is logged. */
export function toFailure(error: unknown, log: Log, procedure: string): ORPCError<'FAILED', ErrorDetail> {
  const detail = detailOf(error, log, procedure)
  return new ORPCError('FAILED', {
    defined: true,
    status: 400,
    message: detail.message,
    data: detail,
    cause: error,
  })
}

function detailOf(error: unknown, log: Log, procedure: string): ErrorDetail {
  if (error instanceof AppError) return error.detail
  if (error instanceof ORPCError) {
    if (error.cause instanceof ValidationError && error.code === 'BAD_REQUEST')
      return { code: 'invalid-input', message: issuesInWords(error.cause.issues), remedy: 'Correct the input.' }
    if (error.code === 'BAD_REQUEST')
      return { code: 'invalid-input', message: 'The request could not be read.', remedy: '' }
  }
  if (error instanceof Error && error.name === 'AbortError')
    return { code: 'cancelled', message: 'The call was cancelled.', remedy: '' }
  const message = error instanceof Error ? error.message : String(error)
  log.error('A call failed unexpectedly.', { procedure, message, stack: error instanceof Error ? error.stack : '' })
  return {
    code: 'internal',
    message: `Something went wrong inside the program: ${message}`,
    remedy: 'The details are in the log file.',
  }
}

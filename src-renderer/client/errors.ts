/** What a call rejected with, whatever carried it, as an error of the closed set. */
import { ORPCError } from '@orpc/client'
import { AppError, ERROR_CODES, type ErrorDetail } from '#shared/domain/errors.ts'

function isDetail(data: unknown): data is ErrorDetail {
  if (typeof data !== 'object' || data === null) return false
  const { code, message, remedy } = data as Partial<Record<keyof ErrorDetail, unknown>>
  return ERROR_CODES.some((known) => known === code) && typeof message === 'string' && typeof remedy === 'string'
}

export function asAppError(error: unknown): AppError {
  if (error instanceof AppError) return error
  if (error instanceof ORPCError && isDetail(error.data))
    return new AppError(error.data.code, error.data.message, error.data.remedy, { cause: error })
  const gone = error instanceof Error && error.name === 'AbortError'
  const message = error instanceof Error ? error.message : String(error)
  return new AppError(gone ? 'cancelled' : 'internal', message, '', { cause: error })
}

/** What went wrong and what to do, from anything a call can reject with. */
export const describeError = (error: unknown): ErrorDetail => asAppError(error).detail

import { ERROR_CODES, toErrorDetail, type ErrorDetail } from '#shared/domain/errors.ts'

function isDetail(value: unknown): value is ErrorDetail {
  if (typeof value !== 'object' || value === null) return false
  const { code, message } = value as Record<string, unknown>
  return typeof message === 'string' && (ERROR_CODES as readonly unknown[]).includes(code)
}

/** What went wrong and what to do, from anything a call can reject with. */
export function describeError(error: unknown): ErrorDetail {
  if (typeof error === 'object' && error !== null && 'data' in error && isDetail(error.data)) {
    return { ...error.data, remedy: error.data.remedy ?? '' }
  }
  return toErrorDetail(error)
}

/** True when a call ended because nobody waits for it any more. */
export function isAbort(error: unknown): boolean {
  return error instanceof Error && error.name === 'AbortError'
}

/** Every failure the program reports; the code is closed, the message says what happened, `remedy` what to do. */
export const ERROR_CODES = [
  'invalid-input',
  'not-found',
  'conflict',
  'rig-absent',
  'rig-busy',
  'rig-permission',
  'rig-not-scpi',
  'rig-unsuitable',
  'rig-lost',
  'rig-protocol',
  'rig-timeout',
  'link-too-slow',
  'stimulus-absent',
  'stimulus-mismatch',
  'archive-newer',
  'archive-damaged',
  'archive-locked',
  'archive-read-only',
  'archive-disk-full',
  'import-unreadable',
  'worker-died',
  'cancelled',
  'timeout',
  'internal',
] as const
export type ErrorCode = (typeof ERROR_CODES)[number]

export interface ErrorDetail {
  readonly code: ErrorCode
  readonly message: string
  readonly remedy: string
}

/** An error with a code of the closed set. Only its `detail` crosses threads and processes. */
export class AppError extends Error {
  readonly code: ErrorCode
  readonly remedy: string
  constructor(code: ErrorCode, message: string, remedy = '', options?: ErrorOptions) {
    super(message, options)
    this.name = 'AppError'
    this.code = code
    this.remedy = remedy
  }
  get detail(): ErrorDetail {
    return { code: this.code, message: this.message, remedy: this.remedy }
  }
}

export function toErrorDetail(error: unknown): ErrorDetail {
  if (error instanceof AppError) return error.detail
  return { code: 'internal', message: error instanceof Error ? error.message : String(error), remedy: '' }
}

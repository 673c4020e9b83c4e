import { AppError } from '#shared/domain/errors.ts'

/**
 * What a serial port's failure to open means. The binding gives no code, only the system's words, e.g.
 * `Error: Permission denied, cannot open /dev/ttyACM0` or `Error Resource temporarily unavailable Cannot lock port`;
 * on Windows `Opening COM3: Access denied` means that another program holds it.
 */
export function serialOpenError(path: string, error: unknown, platform: NodeJS.Platform): AppError {
  const words = error instanceof Error ? error.message : String(error)
  const code = errorCode(error)
  const cause = { cause: error }
  const says = (pattern: RegExp, ...codes: readonly string[]): boolean => codes.includes(code) || pattern.test(words)
  if (says(/resource busy|temporarily unavailable|cannot lock|in use|sharing violation/i, 'EBUSY', 'EAGAIN'))
    return busy(path, cause)
  if (says(/permission denied|access (?:is )?denied|operation not permitted/i, 'EACCES', 'EPERM'))
    return platform === 'win32'
      ? busy(path, cause)
      : new AppError('rig-permission', `You may not use ${path}.`, permissionRemedy(platform), cause)
  if (
    says(
      /no such|not found|unknown error code 433|input\/output error|cannot find/i,
      'ENOENT',
      'ENXIO',
      'ENODEV',
      'EIO',
    )
  )
    return new AppError(
      'rig-absent',
      `There is no port ${path}.`,
      'Plug the rig in, switch it on, and choose the port from the list again.',
      cause,
    )
  if (says(/baud|inappropriate ioctl|not a typewriter|invalid argument|is a directory/i, 'ENOTTY', 'EINVAL', 'EISDIR'))
    return new AppError(
      'rig-unsuitable',
      `${path} cannot be used as a serial port at this baud rate (${firstLine(words)}).`,
      'Choose another port or a usual baud rate, e.g. 115200.',
      cause,
    )
  return new AppError(
    'rig-absent',
    `The port ${path} cannot be opened (${firstLine(words)}).`,
    'Check cable, power and port.',
    cause,
  )
}

function busy(path: string, cause: ErrorOptions): AppError {
  return new AppError(
    'rig-busy',
    `Another program is using ${path}.`,
    'Close the other program (a terminal, a second copy of this one, or a modem manager that probes new ports).',
    cause,
  )
}

function permissionRemedy(platform: NodeJS.Platform): string {
  if (platform !== 'linux') return 'Ask whoever looks after this computer for access to serial ports.'
  return (
    'Copy assets/60-slewlight.rules to /etc/udev/rules.d and plug the rig in again, or join the group that owns serial ' +
    'ports: "sudo usermod -aG dialout $USER" (Debian, Ubuntu, Fedora) or "sudo usermod -aG uucp $USER" (Arch). ' +
    'A new group counts only after you log out and in again.'
  )
}

function errorCode(error: unknown): string {
  return error instanceof Error && 'code' in error && typeof error.code === 'string' ? error.code : ''
}

function firstLine(words: string): string {
  return (words.split('\n')[0] ?? '').replace(/^Error:?\s*/, '').slice(0, 200)
}

/** Whether a call of the file system failed because there is no room left, on the disk or in the person's share of it. */
export function isDiskFull(error: unknown): boolean {
  const code = (error as NodeJS.ErrnoException | null)?.code
  return code === 'ENOSPC' || code === 'EDQUOT'
}

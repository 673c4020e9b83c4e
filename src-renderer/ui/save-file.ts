/** Hands a text to the browser as a file to keep; the desktop asks where to put it. */
export function saveTextFile(name: string, text: string, type = 'application/json'): void {
  const url = URL.createObjectURL(new Blob([text], { type }))
  const link = document.createElement('a')
  link.href = url
  link.download = name
  link.click()
  // The download has its own hold on the data once it was started.
  setTimeout(() => URL.revokeObjectURL(url), 10_000)
}

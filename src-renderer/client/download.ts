/** How long the address of a file is kept for the browser to read it, ms. */
const KEEP_MS = 60_000

/** Hands a text to the person as a file: the browser's download, or the desktop's dialog that asks where to. */
export function saveText(
  { name, text }: { readonly name: string; readonly text: string },
  type = 'text/csv;charset=utf-8',
): void {
  const address = URL.createObjectURL(new Blob([text], { type }))
  const link = document.createElement('a')
  link.href = address
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(address), KEEP_MS)
}

/** How long the address of a file is kept for the browser to read it, ms. */
const KEEP_MS = 60_000

/** Hands a text to the person as a file: the browser's download, or the desktop's dialog that asks where to. */
export function saveText(
  { name, text }: { readonly name: string; readonly text: string },
  type = 'text/csv;charset=utf-8',
): void {
  saveBlob(name, new Blob([text], { type }))
}

/** The same for a file that is whole already. */
export function saveBlob(name: string, content: Blob): void {
  const address = URL.createObjectURL(content)
  const link = document.createElement('a')
  link.href = address
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(address), KEEP_MS)
}

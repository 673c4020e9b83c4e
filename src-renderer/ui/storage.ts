/** Small preferences of this machine. Storage may be refused or full; nothing here matters enough to fail for. */
const PREFIX = 'slewlight.'

export function readStored(key: string): unknown {
  try {
    const text = localStorage.getItem(PREFIX + key)
    return text === null ? null : (JSON.parse(text) as unknown)
  } catch {
    return null
  }
}

export function writeStored(key: string, value: unknown): void {
  try {
    localStorage.setItem(PREFIX + key, JSON.stringify(value))
  } catch {
    // The preference lasts until the page is closed.
  }
}

/** What the desktop's preload script puts on the page; absent in a browser. */
export interface DesktopBridge {
  readonly host: 'desktop'
  /** Asks the host for a fresh message port; it arrives as a window message `PORT_ANSWER`. */
  requestPort(): void
}

export function desktopBridge(): DesktopBridge | undefined {
  return (globalThis as { slewlight?: DesktopBridge }).slewlight
}

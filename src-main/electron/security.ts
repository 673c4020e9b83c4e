/** What no page may do, whatever runs in it: leave our origin, open windows, embed others, use devices or the network. */
import type { App, Session, WebContents } from 'electron'
import type { Log } from '#main/core/ports.ts'

/** Needed by the stimulus page; everything else is refused. */
const GRANTED: ReadonlySet<string> = new Set(['fullscreen', 'window-management', 'window-placement'])

export interface SecurityOptions {
  /** Where our pages come from. */
  readonly origin: string
  readonly log: Log
  /** The development server's pages load their modules over the network. */
  readonly development: boolean
}

/** Schemes of our own have an opaque origin, hence the parts. */
function isOwnUrl(url: string, origin: string): boolean {
  try {
    const given = new URL(url)
    const own = new URL(origin)
    return given.protocol === own.protocol && given.host === own.host
  } catch {
    return false
  }
}

export function secureContents(app: App, options: SecurityOptions): void {
  app.on('web-contents-created', (_event, contents) => secureOne(contents, options))
}

function secureOne(contents: WebContents, { origin, log }: SecurityOptions): void {
  contents.on('will-navigate', (event, url) => {
    // Reloading is the one navigation a page of ours makes.
    if (url === contents.getURL() && isOwnUrl(url, origin)) return
    log.warn('A page tried to navigate away; it was refused.', { url })
    event.preventDefault()
  })
  // Pages such as about:blank have no request that could be refused: the page of ours is shown again instead.
  let own = ''
  contents.on('did-navigate', (_event, url) => {
    if (isOwnUrl(url, origin)) own = url
    else if (own !== '') {
      log.warn('A page navigated away; the application is shown again.', { url })
      contents
        .loadURL(own)
        .catch((error: unknown) => log.error('A page could not be shown again.', { error: String(error) }))
    }
  })
  contents.on('will-redirect', (event, url) => {
    if (!isOwnUrl(url, origin)) event.preventDefault()
  })
  contents.on('will-attach-webview', (event) => event.preventDefault())
  contents.setWindowOpenHandler(({ url }) => {
    log.warn('A page tried to open a window; it was refused.', { url })
    return { action: 'deny' }
  })
}

export function secureSession(session: Session, { origin, log, development }: SecurityOptions): void {
  session.setPermissionRequestHandler((_contents, permission, callback, details) => {
    const granted = GRANTED.has(permission) && isOwnUrl(details.requestingUrl, origin)
    if (!granted) log.warn('A page asked for a permission; it was refused.', { permission })
    callback(granted)
  })
  session.setPermissionCheckHandler(
    (_contents, permission, requestingOrigin) => GRANTED.has(permission) && isOwnUrl(requestingOrigin, origin),
  )
  session.setDevicePermissionHandler(() => false)
  session.setSpellCheckerEnabled(false)
  if (development) return
  const network = { urls: ['http://*/*', 'https://*/*', 'ws://*/*', 'wss://*/*', 'ftp://*/*', 'file://*/*'] }
  session.webRequest.onBeforeRequest(network, ({ url }, callback) => {
    log.warn('A page tried to reach the network; it was refused.', { url })
    callback({ cancel: true })
  })
}

/** The interface's own scheme, so that pages have an origin of their own and never the rights of `file:`. */
import { readFile } from 'node:fs/promises'
import { protocol } from 'electron'

const SCHEME = 'app'
export const APP_ORIGIN = `${SCHEME}://slewlight`

/** Before the application is ready. */
export function declareScheme(): void {
  protocol.registerSchemesAsPrivileged([
    { scheme: SCHEME, privileges: { standard: true, secure: true, supportFetchAPI: true } },
  ])
}

export interface AppFiles {
  /** The file a URL path names below the interface's folder, or null. */
  find(urlPath: string): Promise<{ readonly path: string; readonly type: string } | null>
  readonly headers: Readonly<Record<string, string>>
}

/** After the application is ready. */
export function serveScheme(files: AppFiles): void {
  const { headers } = files
  protocol.handle(SCHEME, async (request) => {
    const url = new URL(request.url)
    const own = `${url.protocol}//${url.host}` === APP_ORIGIN && (request.method === 'GET' || request.method === 'HEAD')
    const file = own ? await files.find(url.pathname) : null
    if (file === null) return new Response(null, { status: 404, headers })
    return new Response(await readFile(file.path), { headers: { ...headers, 'content-type': file.type } })
  })
}

/** Files of the built interface, for the loopback server and the desktop's own scheme. */
import { realpath, stat } from 'node:fs/promises'
import { extname, join, sep } from 'node:path'

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.json': 'application/json; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.txt': 'text/plain; charset=utf-8',
}

/** @param socket extra source for the interface's own WebSocket, for browsers whose `'self'` leaves it out. */
function contentSecurityPolicy(socket = ''): string {
  return [
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "font-src 'self'",
    `connect-src 'self'${socket === '' ? '' : ` ${socket}`}`,
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; ')
}

export function securityHeaders(socket = ''): Record<string, string> {
  return {
    'content-security-policy': contentSecurityPolicy(socket),
    'x-content-type-options': 'nosniff',
    'referrer-policy': 'no-referrer',
    'cross-origin-resource-policy': 'same-origin',
    'cross-origin-opener-policy': 'same-origin',
    // An isolated page gets frame times to a few microseconds instead of a tenth of a millisecond.
    'cross-origin-embedder-policy': 'require-corp',
  }
}

export interface StaticFile {
  readonly path: string
  readonly type: string
  readonly bytes: number
  /** The name holds a hash of the contents, so a copy never grows stale. */
  readonly immutable: boolean
}

/**
 * The file a URL path names below `root`, or null: unknown kinds, anything outside `root` (also through symbolic
 * links) and folders do not exist. `/` is `index.html`.
 */
export async function findFile(root: string, urlPath: string): Promise<StaticFile | null> {
  let name: string
  try {
    name = decodeURIComponent(urlPath)
  } catch {
    return null
  }
  if (name.includes('\0') || name.includes('\\')) return null
  if (name === '/') name = '/index.html'
  const type = TYPES[extname(name)]
  if (type === undefined) return null
  try {
    const base = await realpath(root)
    const path = await realpath(join(base, name))
    if (!path.startsWith(base + sep)) return null
    const found = await stat(path)
    return found.isFile() ? { path, type, bytes: found.size, immutable: name.startsWith('/assets/') } : null
  } catch {
    return null
  }
}

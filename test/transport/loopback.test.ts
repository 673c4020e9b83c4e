import { mkdtemp, mkdir, rm, symlink, writeFile } from 'node:fs/promises'
import { request as httpRequest } from 'node:http'
import { connect as tcpConnect } from 'node:net'
import { networkInterfaces, tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { WebSocket } from 'ws'
import { startLoopback, type Loopback } from '#main/transport/loopback.ts'
import { RPC_PATH, SESSION_PATH } from '#shared/contract/wire.ts'
import { fakeHost, sessionCookie, type Host } from './harness.ts'

let folder: string
let root: string
let host: Host
let loopback: Loopback

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'slewlight-loopback-'))
  root = join(folder, 'renderer')
  await mkdir(join(root, 'assets'), { recursive: true })
  await writeFile(join(root, 'index.html'), '<title>home</title>')
  await writeFile(join(root, 'assets', 'a-1.js'), 'export {}')
  await writeFile(join(folder, 'secret.txt'), 'secret')
  await symlink(join(folder, 'secret.txt'), join(root, 'link.txt'))
  host = fakeHost()
  loopback = await startLoopback({ serve: host.serve, root, log: host.log })
})
afterAll(async () => {
  await loopback.close()
  await rm(folder, { recursive: true })
})

interface Answer {
  readonly status: number
  readonly headers: Readonly<Record<string, string | string[] | undefined>>
  readonly body: string
}

/** Raw request: fetch would not send a false Host, nor a path with `..` in it. */
function ask(path: string, options: { method?: string; headers?: Record<string, string>; body?: string } = {}) {
  const { hostname, port } = new URL(loopback.origin)
  return new Promise<Answer>((resolve, reject) => {
    const request = httpRequest(
      { hostname, port, path, method: options.method ?? 'GET', headers: options.headers ?? {} },
      (response) => {
        let body = ''
        response.on('data', (chunk) => (body += String(chunk)))
        response.on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, body }))
      },
    )
    request.on('error', reject)
    request.end(options.body)
  })
}

/** Status of an attempt to open the WebSocket; 101 when it opened. */
function dial(headers: Record<string, string>, path = RPC_PATH): Promise<number> {
  const socket = new WebSocket(loopback.origin.replace('http:', 'ws:') + path, { headers })
  return new Promise((resolve) => {
    socket.on('open', () => {
      socket.close()
      resolve(101)
    })
    socket.on('unexpected-response', (_request, response) => resolve(response.statusCode ?? 0))
    socket.on('error', () => undefined)
  })
}

const token = (value: unknown) => JSON.stringify({ token: value })

describe('the loopback server and hostile pages of the same machine', () => {
  it('answers a false Host with nothing, whatever it looks like', async () => {
    const { port } = new URL(loopback.origin)
    for (const name of [
      `evil.example:${port}`,
      `127.0.0.1.evil.example:${port}`,
      `localhost:${port}`,
      '127.0.0.1',
      `127.0.0.1:${port}0`,
    ]) {
      const answer = await ask('/', { headers: { host: name } })
      expect([name, answer.status, answer.body]).toEqual([name, 403, ''])
    }
  })

  it('listens on 127.0.0.1 only', async () => {
    const { port } = new URL(loopback.origin)
    const others = Object.values(networkInterfaces())
      .flatMap((list) => list ?? [])
      .filter(({ family, internal }) => family === 'IPv4' && !internal)
    for (const { address } of others) {
      const outcome = await new Promise<string>((resolve) => {
        const socket = tcpConnect({ host: address, port: Number(port) })
        socket.on('connect', () => resolve('connected'))
        socket.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? 'error'))
      })
      expect(outcome).toBe('ECONNREFUSED')
    }
  })

  it('gives a session for the token only, and only to its own origin', async () => {
    const post = (body: string, origin?: string) =>
      ask(SESSION_PATH, { method: 'POST', body, headers: origin === undefined ? {} : { origin } })
    const own = loopback.origin
    expect((await post(token(loopback.token), 'http://evil.example')).status).toBe(401)
    expect((await post(token(loopback.token), 'null')).status).toBe(401)
    expect((await post(token(loopback.token))).status).toBe(401)
    for (const wrong of ['', '0'.repeat(32), loopback.token.slice(0, -1), `${loopback.token}0`, null, [loopback.token]])
      expect((await post(token(wrong), own)).status).toBe(401)
    expect((await post('{', own)).status).toBe(401)
    expect((await post('x'.repeat(100_000), own)).status).toBe(401)
    expect((await ask(SESSION_PATH, { method: 'PUT' })).status).toBe(405)
    const right = await post(token(loopback.token), own)
    expect(right.status).toBe(204)
    const cookie = String(right.headers['set-cookie'])
    expect(cookie).toContain('HttpOnly')
    expect(cookie).toContain('SameSite=Strict')
    expect(cookie).not.toContain(loopback.token)
    expect((await ask(SESSION_PATH)).status).toBe(401)
    expect((await ask(SESSION_PATH, { headers: { cookie: cookie.split(';')[0] ?? '' } })).status).toBe(204)
  })

  it('opens the WebSocket for cookie, Host and Origin together, and for nothing less', async () => {
    const cookie = await sessionCookie(loopback)
    const { origin } = loopback
    expect(await dial({ cookie, origin })).toBe(101)
    expect(await dial({ cookie, origin: 'http://evil.example' })).toBe(403)
    expect(await dial({ cookie, origin: `${origin}.evil.example` })).toBe(403)
    expect(await dial({ cookie, origin: origin.replace('http:', 'https:') })).toBe(403)
    expect(await dial({ cookie, origin: 'null' })).toBe(403)
    expect(await dial({ cookie })).toBe(403)
    expect(await dial({ cookie, origin, host: 'evil.example' })).toBe(403)
    expect(await dial({ origin })).toBe(401)
    expect(await dial({ origin, cookie: `${cookie}0` })).toBe(401)
    expect(await dial({ origin, cookie: `x${cookie}` })).toBe(401)
    expect(await dial({ cookie, origin }, '/other')).toBe(404)
    expect(host.calls).toEqual([])
  })

  it('has tokens and sessions of 128 random bits, new in every run', async () => {
    const other = await startLoopback({ serve: host.serve, root, log: host.log })
    expect(loopback.token).toMatch(/^[0-9a-f]{32}$/)
    expect(other.token).not.toBe(loopback.token)
    await other.close()
  })

  it('says in words when a port is taken', async () => {
    const port = Number(new URL(loopback.origin).port)
    await expect(startLoopback({ serve: host.serve, root, port, log: host.log })).rejects.toMatchObject({
      code: 'conflict',
      message: `Port ${port} is already in use.`,
    })
  })
})

describe('files of the loopback server', () => {
  it('serves the interface with its policy', async () => {
    const page = await ask('/')
    expect([page.status, page.body]).toEqual([200, '<title>home</title>'])
    const policy = String(page.headers['content-security-policy'])
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'self'")
    expect(policy).toContain("frame-ancestors 'none'")
    expect(policy).not.toContain('unsafe')
    expect(page.headers['x-content-type-options']).toBe('nosniff')
    expect((await ask('/assets/a-1.js')).headers['content-type']).toBe('text/javascript; charset=utf-8')
    expect((await ask('/', { method: 'HEAD' })).body).toBe('')
  })

  it('serves nothing outside its folder', async () => {
    const paths = ['/../secret.txt', '/..%2fsecret.txt', '/%2e%2e/secret.txt', '/assets/../../secret.txt', '/link.txt']
    for (const path of [...paths, '/..\\secret.txt', '//etc/passwd', '/assets', '/%00', '/%', '/index.html%00.txt'])
      expect([path, (await ask(path)).status]).toEqual([path, 404])
    expect((await ask('/', { method: 'POST' })).status).toBe(405)
  })
})

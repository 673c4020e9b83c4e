import { readdirSync, readlinkSync } from 'node:fs'
import { mkdtemp, mkdir, realpath, rm, symlink, truncate, writeFile } from 'node:fs/promises'
import { request as httpRequest } from 'node:http'
import { connect as tcpConnect, type Socket } from 'node:net'
import { networkInterfaces, tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startLoopback, type Loopback } from '#main/transport/loopback.ts'
import { RPC_PATH, RPC_PROTOCOL, SESSION_PATH } from '#shared/contract/wire.ts'
import { fakeHost, sessionSecret, tokenOf, type Host } from './harness.ts'

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
function ask(
  path: string,
  options: { method?: string; headers?: Record<string, string>; body?: string; at?: Loopback } = {},
) {
  const { hostname, port } = new URL((options.at ?? loopback).origin)
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

/** Status of an attempt to open the WebSocket; 101 when it opened. A raw request, for handshakes no client would make. */
function dial(headers: Record<string, string>, path = RPC_PATH): Promise<number> {
  const { hostname, port } = new URL(loopback.origin)
  const handshake = {
    connection: 'Upgrade',
    upgrade: 'websocket',
    'sec-websocket-version': '13',
    'sec-websocket-key': Buffer.alloc(16, 1).toString('base64'),
  }
  return new Promise((resolve, reject) => {
    const request = httpRequest({ hostname, port, path, headers: { ...handshake, ...headers } })
    request.on('upgrade', (response, socket) => {
      socket.destroy()
      resolve(response.statusCode ?? 0)
    })
    request.on('response', (response) => {
      response.resume()
      resolve(response.statusCode ?? 0)
    })
    request.on('error', reject)
    request.end()
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
      .map(({ address }) => address)
    // Linux answers on the whole of 127/8, so that there is another address on any machine.
    if (process.platform === 'linux') others.push('127.0.0.2')
    expect(others).not.toEqual([])
    for (const address of others) {
      const outcome = await new Promise<string>((resolve) => {
        const socket = tcpConnect({ host: address, port: Number(port) })
        socket.on('connect', () => resolve('connected'))
        socket.on('error', (error: NodeJS.ErrnoException) => resolve(error.code ?? 'error'))
      })
      expect(outcome).toBe('ECONNREFUSED')
    }
  })

  it('gives a session for the token only, only to its own origin, and only once', async () => {
    const used: string[] = []
    const own = await startLoopback({ serve: host.serve, root, log: host.log, onUsed: (next) => used.push(next) })
    const valid = tokenOf(own.url)
    const post = async (body: string, origin?: string) => {
      const headers = origin === undefined ? {} : { origin }
      return ask(SESSION_PATH, { method: 'POST', body, headers, at: own })
    }
    expect((await post(token(valid), 'http://evil.example')).status).toBe(401)
    expect((await post(token(valid), 'null')).status).toBe(401)
    expect((await post(token(valid))).status).toBe(401)
    for (const wrong of ['', '0'.repeat(32), valid.slice(0, -1), `${valid}0`, null, [valid]])
      expect((await post(token(wrong), own.origin)).status).toBe(401)
    expect((await post('{', own.origin)).status).toBe(401)
    expect((await post('x'.repeat(100_000), own.origin)).status).toBe(401)
    expect((await ask(SESSION_PATH, { method: 'PUT', at: own })).status).toBe(405)
    const right = await post(token(valid), own.origin)
    expect(right.status).toBe(200)
    expect(right.headers['set-cookie']).toBeUndefined()
    expect(right.headers['cache-control']).toBe('no-store')
    const { secret } = JSON.parse(right.body) as { secret: string }
    expect(secret).toMatch(/^[0-9a-f]{32}$/)
    expect(secret).not.toBe(valid)
    const known = (authorization: string) => ask(SESSION_PATH, { headers: { authorization }, at: own })
    expect((await ask(SESSION_PATH, { at: own })).status).toBe(401)
    expect((await known(`Bearer ${valid}`)).status).toBe(401)
    expect((await known(`Bearer ${secret}`)).status).toBe(204)
    // Used up: the next browser needs the next address, and the one of the other page is still good.
    expect((await post(token(valid), own.origin)).status).toBe(401)
    expect(used).toHaveLength(1)
    expect((await post(token(tokenOf(used[0] ?? '')), own.origin)).status).toBe(200)
    expect((await post(token(tokenOf(own.stimulusUrl)), own.origin)).status).toBe(200)
    expect(used.map((address) => new URL(address).pathname)).toEqual(['/', '/', '/stimulus.html'])
    await own.close()
  })

  it('opens the WebSocket for secret, Host and Origin together, and for nothing less', async () => {
    const { origin } = loopback
    const secret = await sessionSecret(loopback)
    const offer = (...protocols: string[]) => ({ 'sec-websocket-protocol': protocols.join(', ') })
    const right = offer(RPC_PROTOCOL, secret)
    expect(await dial({ ...right, origin })).toBe(101)
    expect(await dial({ ...right, origin: 'http://evil.example' })).toBe(403)
    expect(await dial({ ...right, origin: `${origin}.evil.example` })).toBe(403)
    expect(await dial({ ...right, origin: origin.replace('http:', 'https:') })).toBe(403)
    expect(await dial({ ...right, origin: 'null' })).toBe(403)
    expect(await dial(right)).toBe(403)
    expect(await dial({ ...right, origin, host: 'evil.example' })).toBe(403)
    expect(await dial({ origin })).toBe(401)
    for (const wrong of [
      [RPC_PROTOCOL],
      [secret],
      [secret, RPC_PROTOCOL],
      [RPC_PROTOCOL, `${secret}0`],
      [RPC_PROTOCOL, '0'.repeat(32)],
    ])
      expect([wrong, await dial({ ...offer(...wrong), origin })]).toEqual([wrong, 401])
    expect(await dial({ ...right, origin }, '/other')).toBe(404)
    expect(host.calls).toEqual([])
  })

  it('is not opened by anything a browser sends to other ports of the address', async () => {
    // What a page's browser sends by itself are cookies, whatever the port: there are none, and none is looked at.
    const { origin } = loopback
    const secret = await sessionSecret(loopback)
    const { port } = new URL(origin)
    for (const cookie of [`slewlight-${port}=${secret}`, `slewlight-session=${secret}`])
      expect(await dial({ origin, cookie, 'sec-websocket-protocol': RPC_PROTOCOL })).toBe(401)
  })

  it('has tokens and sessions of 128 random bits, new in every run', async () => {
    const other = await startLoopback({ serve: host.serve, root, log: host.log })
    const tokens = [loopback.url, loopback.stimulusUrl, other.url, other.stimulusUrl].map(tokenOf)
    for (const each of tokens) expect(each).toMatch(/^[0-9a-f]{32}$/)
    expect(new Set(tokens).size).toBe(4)
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

  // Seen through /proc, which only Linux has.
  it.skipIf(process.platform !== 'linux')('lets go of a file when its reader leaves (Linux only)', async () => {
    const path = join(await realpath(root), 'assets', 'long.js')
    await writeFile(path, '')
    // More than the system's buffers take.
    await truncate(path, 64 * 1024 * 1024)
    const held = (): number =>
      readdirSync('/proc/self/fd').filter((number) => {
        try {
          return readlinkSync(`/proc/self/fd/${number}`) === path
        } catch {
          return false
        }
      }).length
    const { hostname, port } = new URL(loopback.origin)
    const readers: Socket[] = []
    for (let i = 0; i < 5; i++) {
      const reader = tcpConnect({ host: hostname, port: Number(port) })
      reader.write(`GET /assets/long.js HTTP/1.1\r\nHost: ${hostname}:${port}\r\n\r\n`)
      readers.push(reader)
    }
    await expect.poll(held).toBe(5)
    for (const reader of readers) reader.destroy()
    await expect.poll(held).toBe(0)
  })
})

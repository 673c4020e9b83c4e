/** An instrument behind a TCP port, bytes as on a serial line. */
import { createConnection, type Socket } from 'node:net'
import { AppError } from '#shared/domain/errors.ts'
import { type ByteLink, LinkListeners } from './link.ts'

const CONNECT_MS = 5000

/** Rejects with `rig-absent` where nothing answers. */
export async function openTcp(host: string, port: number): Promise<ByteLink> {
  const socket = createConnection({ host, port })
  socket.setNoDelay(true)
  await new Promise<void>((resolve, reject) => {
    const fail = (reason: string): void => {
      socket.destroy()
      reject(
        new AppError(
          'rig-absent',
          `Nothing answers at ${host}:${port}: ${reason}.`,
          'Check that the instrument is on, its address, and that its port for SCPI is open.',
        ),
      )
    }
    const timer = setTimeout(() => fail(`no connection within ${CONNECT_MS / 1000} s`), CONNECT_MS)
    socket.once('connect', () => {
      clearTimeout(timer)
      resolve()
    })
    socket.once('error', (error) => {
      clearTimeout(timer)
      fail(error.message)
    })
  })
  return linkOf(socket)
}

function linkOf(socket: Socket): ByteLink {
  const listeners = new LinkListeners()
  const { onData, onClose } = listeners
  socket.on('data', (chunk) => listeners.deliver(Uint8Array.from(chunk as Uint8Array)))
  socket.on('error', (error) => listeners.end(`the connection failed (${error.message})`))
  socket.on('close', () => listeners.end('the instrument closed the connection'))
  return {
    bytesPerSecond: null,
    write: (bytes) =>
      new Promise((resolve, reject) => {
        if (listeners.ended !== null) return reject(new Error(listeners.ended))
        socket.write(bytes, (error) => (error ? reject(error) : resolve()))
      }),
    onData,
    onClose,
    async close() {
      listeners.end('it was closed')
      socket.destroy()
    },
  }
}

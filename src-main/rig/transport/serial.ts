import { stat } from 'node:fs/promises'
import { SerialPort } from 'serialport'
import { AppError } from '#shared/domain/errors.ts'
import type { SerialPortInfo } from '#shared/domain/rig.ts'
import { type ByteLink, LinkListeners } from './link.ts'
import { serialOpenError } from './serial-errors.ts'

const BITS_PER_BYTE = 10
const LEAST_WRITE_TIMEOUT_MS = 2000
const WATCH_MS = 500
const NUDGE_MS = 20
/** UV_READABLE | UV_WRITABLE of the binding's poller. */
const BOTH_DIRECTIONS = 3

/** Serial ports of this machine; empty where none can be listed. */
export async function listSerialPorts(): Promise<SerialPortInfo[]> {
  let ports
  try {
    ports = await SerialPort.list()
  } catch {
    // Without udev (a container) there is nothing to list; a path can still be typed.
    return []
  }
  return ports.map((port) => ({
    path: port.path,
    label: [port.manufacturer, port.pnpId ?? port.serialNumber].filter(Boolean).join(' · ') || port.path,
  }))
}

/**
 * Opens a port at 8N1 without any flow control: XON/XOFF bytes occur inside blocks. Never to be called on a worker
 * thread, where the binding aborts the process. Rejects with `rig-absent`, `rig-permission`, `rig-busy` or
 * `rig-unsuitable`.
 */
export async function openSerial(path: string, baudRate: number): Promise<ByteLink> {
  const port = new SerialPort({
    path,
    baudRate,
    dataBits: 8,
    parity: 'none',
    stopBits: 1,
    rtscts: false,
    xon: false,
    xoff: false,
    xany: false,
    lock: true,
    autoOpen: false,
    endOnClose: false,
  })
  // An 'error' without a listener would end the process.
  port.on('error', () => undefined)
  await new Promise<void>((resolve, reject) => {
    port.open((error) => {
      if (error) reject(serialOpenError(path, error, process.platform))
      else resolve()
    })
  })
  const link = new SerialLink(port, path, baudRate)
  await link.begin()
  return link
}

class SerialLink implements ByteLink {
  readonly bytesPerSecond: number
  readonly #port: SerialPort
  readonly #path: string
  readonly #listeners = new LinkListeners()
  readonly onData = this.#listeners.onData
  readonly onClose = this.#listeners.onClose
  readonly #pendingWrites = new Set<(reason: Error) => void>()
  #node: string | null = null
  #watch: NodeJS.Timeout | null = null
  #closing: Promise<void> | null = null

  constructor(port: SerialPort, path: string, baudRate: number) {
    this.#port = port
    this.#path = path
    this.bytesPerSecond = baudRate / BITS_PER_BYTE
    port.on('error', (error: Error) => this.#end(`the port failed (${error.message})`))
    port.on('close', () => this.#end('the port went away'))
    port.on('data', (chunk: Uint8Array) => this.#listeners.deliver(chunk))
  }

  async begin(): Promise<void> {
    // What the system kept from before belongs to nobody.
    await new Promise<void>((resolve) => this.#port.flush(() => resolve()))
    if (process.platform === 'win32') return
    this.#node = await this.#nodeId()
    this.#watch = setInterval(() => void this.#checkNode(), WATCH_MS)
    this.#watch.unref()
  }

  async write(bytes: Uint8Array): Promise<void> {
    const { ended } = this.#listeners
    if (ended !== null) throw goneError(ended)
    const timeoutMs = Math.max(LEAST_WRITE_TIMEOUT_MS, (4000 * bytes.length) / this.bytesPerSecond)
    await new Promise<void>((resolve, reject) => {
      const timer = setTimeout(() => this.#end('it takes no more bytes'), timeoutMs)
      const nudge = setInterval(() => this.#waitBothWays(), NUDGE_MS)
      const settle = (error: Error | null | undefined): void => {
        clearTimeout(timer)
        clearInterval(nudge)
        this.#pendingWrites.delete(settle)
        if (error) reject(error)
        else resolve()
      }
      this.#pendingWrites.add(settle)
      this.#port.write(bytes, (error) => {
        if (error) this.#end(`writing failed (${error.message})`)
        settle(error)
      })
    })
  }

  async close(): Promise<void> {
    this.#end('it was closed')
    await this.#closing
  }

  /**
   * On Unix the binding's poller watches for one direction at a time: a read that has to wait makes it forget a write
   * that waits, and the other way round, until that one direction moves. Asking for both brings the forgotten one back.
   */
  #waitBothWays(): void {
    const binding = this.#port.port
    if (this.#listeners.ended === null && binding !== undefined && 'poller' in binding && this.#port.isOpen)
      binding.poller.poll(BOTH_DIRECTIONS)
  }

  #end(reason: string): void {
    if (this.#listeners.ended !== null) return
    if (this.#watch !== null) clearInterval(this.#watch)
    this.#closing = this.#closePort()
    for (const settle of this.#pendingWrites) settle(goneError(reason))
    this.#listeners.end(reason)
  }

  async #closePort(): Promise<void> {
    if (!this.#port.isOpen) return
    // Closing a port waits for what is still to be sent, which a far end that is gone never takes.
    await new Promise<void>((resolve) => this.#port.flush(() => resolve()))
    if (!this.#port.isOpen) return
    await new Promise<void>((resolve) => this.#port.close(() => resolve()))
  }

  /** The device node behind the path; null when there is none. A port that was pulled and put back has another. */
  async #nodeId(): Promise<string | null> {
    try {
      const { dev, ino, rdev } = await stat(this.#path)
      return `${dev}:${ino}:${rdev}`
    } catch {
      return null
    }
  }

  /** A pulled port is not always reported: some drivers then read as empty for ever. */
  async #checkNode(): Promise<void> {
    const node = await this.#nodeId()
    if (this.#listeners.ended === null && node !== this.#node) this.#end('the port went away')
  }
}

function goneError(reason: string): AppError {
  return new AppError('rig-lost', reason)
}

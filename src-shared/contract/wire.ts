/**
 * What travels between interface and host. Over a message port the objects go as they are (structured clone carries
 * typed arrays); over a WebSocket `encodeFrame` turns one object into one frame and `decodeFrame` back.
 *
 * Binary frame: u32 little-endian length of the JSON part, the JSON part, zero bytes up to a multiple of 8, then the
 * arrays' bytes, each starting at a multiple of 8. The JSON part is `[message, places]`; a place is
 * `[kind, byte offset, element count, ...path into the message]`. Frames without arrays are plain JSON text.
 */
declare const TextEncoder: new () => { encode(text: string): Uint8Array<ArrayBuffer> }
declare const TextDecoder: new (label: string, options: { fatal: boolean }) => { decode(bytes: Uint8Array): string }

/** Path of the WebSocket and of the token exchange on the loopback server. */
export const RPC_PATH = '/rpc'
/** Protocol of the WebSocket; a page offers its secret as a second one. */
export const RPC_PROTOCOL = 'slewlight'
export const SESSION_PATH = '/session'
/** Largest frame either side takes, bytes: an import of recordings is the largest request. */
export const MAX_FRAME_BYTES = 256 * 1024 * 1024
/** The receiver acknowledges every so many messages; the sender holds streams back above the window. */
export const ACK_EVERY = 8
export const SEND_WINDOW = 32

/** Event names of the desktop bridge. */
export const PORT_REQUEST = 'slewlight:request-port'
export const PORT_ANSWER = 'slewlight:port'

/** Acknowledges messages taken, so that streams to a page that cannot keep up are held back at their source. */
export interface AckFrame {
  readonly ack: number
}
export function isAckFrame(message: unknown): message is AckFrame {
  return typeof message === 'object' && message !== null && 'ack' in message && typeof message.ack === 'number'
}

/** Given to every call by its transport. */
export interface CallContext {
  /** Names the connection; no two have the same. */
  readonly connection: string
  /** Resolves once the other side has taken enough of what was sent to it; at once after the connection ended. */
  drained(): Promise<void>
}

const KINDS = {
  u8: Uint8Array,
  i16: Int16Array,
  u16: Uint16Array,
  i32: Int32Array,
  u32: Uint32Array,
  f32: Float32Array,
  f64: Float64Array,
} as const
type Kind = keyof typeof KINDS
type Samples = InstanceType<(typeof KINDS)[Kind]>
type Place = [kind: Kind, byteOffset: number, length: number, ...path: (string | number)[]]

function kindOf(value: object): Kind | undefined {
  return (Object.keys(KINDS) as Kind[]).find((kind) => value instanceof KINDS[kind])
}

/** One message as a text frame, or as a binary frame when it holds typed arrays. */
export function encodeFrame(message: unknown): string | Uint8Array<ArrayBuffer> {
  const arrays: Samples[] = []
  const places: Place[] = []
  let size = 0
  const strip = (value: unknown, path: (string | number)[]): unknown => {
    if (typeof value !== 'object' || value === null) return value
    if (Array.isArray(value)) return value.map((item, i) => strip(item, [...path, i]))
    const kind = kindOf(value)
    if (kind !== undefined) {
      const array = value as Samples
      places.push([kind, size, array.length, ...path])
      arrays.push(array)
      size += Math.ceil(array.byteLength / 8) * 8
      return null
    }
    return Object.fromEntries(Object.entries(value).map(([key, item]) => [key, strip(item, [...path, key])]))
  }
  const stripped = strip(message, [])
  if (arrays.length === 0) return JSON.stringify(message)
  const json = new TextEncoder().encode(JSON.stringify([stripped, places]))
  const start = Math.ceil((4 + json.length) / 8) * 8
  const frame = new Uint8Array(start + size)
  new DataView(frame.buffer).setUint32(0, json.length, true)
  frame.set(json, 4)
  arrays.forEach((array, i) => {
    const bytes = new Uint8Array(array.buffer, array.byteOffset, array.byteLength)
    frame.set(bytes, start + (places[i]?.[1] ?? 0))
  })
  return frame
}

/** @throws RangeError, SyntaxError or TypeError on anything `encodeFrame` cannot have made. */
export function decodeFrame(frame: string | ArrayBuffer | Uint8Array): unknown {
  if (typeof frame === 'string') return JSON.parse(frame)
  const bytes = frame instanceof Uint8Array ? frame : new Uint8Array(frame)
  if (bytes.length < 8) throw new RangeError('The frame is too short.')
  const jsonLength = new DataView(bytes.buffer, bytes.byteOffset, 4).getUint32(0, true)
  if (4 + jsonLength > bytes.length) throw new RangeError('The frame is shorter than it says.')
  const parsed: unknown = JSON.parse(
    new TextDecoder('utf-8', { fatal: true }).decode(bytes.subarray(4, 4 + jsonLength)),
  )
  if (!Array.isArray(parsed) || !Array.isArray(parsed[1])) throw new TypeError('The frame has no list of arrays.')
  const root = { message: parsed[0] as unknown }
  const start = Math.ceil((4 + jsonLength) / 8) * 8
  for (const place of parsed[1] as unknown[]) {
    if (!Array.isArray(place)) throw new TypeError('A place is not a list.')
    const [kind, byteOffset, length, ...path] = place as unknown[]
    if (typeof kind !== 'string' || !Object.hasOwn(KINDS, kind)) throw new TypeError('Unknown array kind.')
    if (!isCount(byteOffset) || !isCount(length)) throw new RangeError('Array place out of range.')
    put(root, ['message', ...path], arrayAt(bytes, kind as Kind, start + byteOffset, length))
  }
  return root.message
}

const isCount = (value: unknown): value is number => Number.isSafeInteger(value) && (value as number) >= 0

function arrayAt(bytes: Uint8Array, kind: Kind, at: number, length: number): Samples {
  const Type = KINDS[kind]
  const byteLength = length * Type.BYTES_PER_ELEMENT
  if (at + byteLength > bytes.length) throw new RangeError('An array reaches past the frame.')
  const offset = bytes.byteOffset + at
  // A frame in a pooled buffer may not be aligned; only then the samples are copied.
  if (offset % Type.BYTES_PER_ELEMENT === 0) return new Type(bytes.buffer as ArrayBuffer, offset, length)
  return new Type(bytes.slice(at, at + byteLength).buffer, 0, length)
}

/** Sets a value at a path of own properties only, so that no frame reaches a prototype. */
function put(root: object, path: readonly unknown[], value: Samples): void {
  let target: object = root
  for (const [i, key] of path.entries()) {
    if ((typeof key !== 'string' && typeof key !== 'number') || !Object.hasOwn(target, key))
      throw new TypeError('An array has no place in its message.')
    const holder = target as Record<string | number, unknown>
    if (i === path.length - 1) {
      holder[key] = value
      return
    }
    const next = holder[key]
    if (typeof next !== 'object' || next === null) throw new TypeError('An array has no place in its message.')
    target = next
  }
}

/**
 * The screen file of `Xvfb -fbdir`: an XWD header (25 big-endian words, X11/XWDFile.h, checked against a real file),
 * a window name, a colour table, then the pixels, 32 bits each.
 */
import { AppError } from '#shared/domain/errors.ts'

export interface ScreenLayout {
  readonly width: number
  readonly height: number
  /** First byte of the pixels in the file. */
  readonly offset: number
  readonly bytesPerLine: number
  /** Places of red, green and blue within the four bytes of a pixel. */
  readonly channels: readonly [number, number, number]
}

export const XWD_HEADER_BYTES = 100
const XWD_VERSION = 7
const Z_PIXMAP = 2
const COLOUR_BYTES = 12

function refuse(why: string): AppError {
  return new AppError(
    'invalid-input',
    `This is not the screen file of an Xvfb: ${why}.`,
    'Start Xvfb with -fbdir DIR and a screen of depth 24, and give DIR/Xvfb_screen0.',
  )
}

/** Rejects with `invalid-input` anything but a screen of 32-bit pixels with 8 bits a colour. */
export function parseXwdHeader(bytes: Uint8Array): ScreenLayout {
  if (bytes.length < XWD_HEADER_BYTES) throw refuse('it is too short')
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length)
  const word = (index: number): number => view.getUint32(4 * index)
  const headerSize = word(0)
  if (word(1) !== XWD_VERSION || headerSize < XWD_HEADER_BYTES || headerSize > 4096)
    throw refuse('its header is unknown')
  if (word(2) !== Z_PIXMAP || word(11) !== 32) throw refuse(`its pixels have ${word(11)} bits instead of 32`)
  const width = word(4)
  const height = word(5)
  const bytesPerLine = word(12)
  if (width === 0 || height === 0 || width > 32_768 || height > 32_768 || bytesPerLine < 4 * width)
    throw refuse('its size is impossible')
  const leastFirst = word(7) === 0
  const channels = [word(14), word(15), word(16)].map((mask) => {
    const byte = [0xff, 0xff00, 0xff0000, 0xff000000].indexOf(mask)
    if (byte < 0) throw refuse('its colours do not have 8 bits each')
    return leastFirst ? byte : 3 - byte
  })
  const [red = 0, green = 0, blue = 0] = channels
  const colours = word(19)
  if (colours > 65_536) throw refuse('its colour table is impossible')
  return { width, height, bytesPerLine, offset: headerSize + colours * COLOUR_BYTES, channels: [red, green, blue] }
}

export interface EyePatch {
  readonly x: number
  readonly y: number
  readonly size: number
}

/** Rows that are read of a patch; a taller one is looked at in this many evenly spread rows. */
const ROWS = 8

/** Places in the file of the rows to read, and the bytes of each. */
export function rowsOf(
  layout: ScreenLayout,
  patch: EyePatch,
): { readonly positions: number[]; readonly bytes: number } {
  const { x, y, size } = patch
  if (size < 1 || x < 0 || y < 0 || x + size > layout.width || y + size > layout.height)
    throw new AppError(
      'invalid-input',
      `The patch ${x},${y} of ${size} pixels is not on the screen of ${layout.width} × ${layout.height}.`,
      'Choose a place and size within the screen.',
    )
  const count = Math.min(ROWS, size)
  const positions = Array.from(
    { length: count },
    (_, i) => layout.offset + (y + Math.floor(((i + 0.5) * size) / count)) * layout.bytesPerLine + 4 * x,
  )
  return { positions, bytes: 4 * size }
}

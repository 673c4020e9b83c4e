/** CRC-32 of ISO 3309 / ITU-T V.42 (reflected polynomial EDB88320h, check value CBF43926h over "123456789"). */
const TABLE = Uint32Array.from({ length: 256 }, (_, index) => {
  let value = index
  for (let bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ 0xed_b8_83_20 : value >>> 1
  return value >>> 0
})

export function crc32(bytes: Uint8Array): number {
  let crc = 0xff_ff_ff_ff
  for (const byte of bytes) crc = (TABLE[(crc ^ byte) & 0xff] ?? 0) ^ (crc >>> 8)
  return (crc ^ 0xff_ff_ff_ff) >>> 0
}

/** What full drive is called in files of colours. */
export const RGB_SCALES = [
  { id: '255', label: '0 to 255' },
  { id: '100', label: '0 to 100' },
  { id: '1', label: '0 to 1' },
] as const
export type RgbScale = (typeof RGB_SCALES)[number]['id']

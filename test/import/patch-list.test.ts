/** Lists of patches to be shown: their order is the file's, their scale is told. */
import { describe, expect, it } from 'vitest'
import { readPatchList } from '#shared/import/patch-list.ts'

const CGATS = `CGATS.17
BEGIN_DATA_FORMAT
SAMPLE_ID RGB_R RGB_G RGB_B
END_DATA_FORMAT
BEGIN_DATA
1 100 0 0
2 50 50 50
3 0 0 100
END_DATA
`

describe('a list of patches', () => {
  it('is read from CGATS, named columns and bare columns, in its order', () => {
    const wanted = [
      [255, 0, 0],
      [128, 128, 128],
      [0, 0, 255],
    ]
    expect(readPatchList(CGATS, 100)).toEqual(wanted)
    expect(readPatchList('name,B,G,R\na,0,0,255\nb,128,128,128\nc,255,0,0\n', 255)).toEqual(wanted)
    expect(readPatchList('# invented\n1\t0\t0\n0.5\t0.5\t0.5\n0\t0\t1\n', 1)).toEqual(wanted)
  })

  it('is refused with the row where a value does not fit its scale, and where there is none', () => {
    for (const [text, scale, message] of [
      ['255,0,0\n300,0,0\n', 255, 'Row 2 has “300”'],
      ['255,0,0\n', 100, 'Row 1 has “255”'],
      ['r,g,b\n1,,1\n', 255, 'Row 1 has nothing'],
      ['r,g,b\n1,x,1\n', 255, 'Row 1 has “x”'],
      ['a,b\n1,2\n', 255, 'Needed are r, g and b'],
      ['', 255, 'There are no patches'],
      ['CGATS.17\nBEGIN_DATA_FORMAT\nA\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n', 255, 'There are no patches'],
      ['1,1,1\n'.repeat(1001), 255, '1001 patches are too many'],
    ] as const) {
      let said = ''
      try {
        readPatchList(text, scale)
      } catch (error) {
        const { message: what, remedy } = error as { message: string; remedy: string }
        said = `${what} ${remedy}`
      }
      expect(said).toContain(message)
    }
  })
})

import { expect, it } from 'vitest'
import { textOfFile } from '../../src-renderer/features/record/text-of-file.ts'

it('a chosen table is read as text; one too large is refused before it is read', async () => {
  expect(await textOfFile(new File(['\uFEFF1 2\r\n'], 'a.csv'))).toContain('1 2')
  const large = {
    size: 50 * 1024 * 1024,
    arrayBuffer: () => Promise.reject(new Error('It was read.')),
  } as unknown as File
  await expect(textOfFile(large)).rejects.toMatchObject({ message: 'The file is larger than 16 MiB.' })
})

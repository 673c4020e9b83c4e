/** Files the application hands to the person. */
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Host } from './fixtures.ts'

/** Where the next file that the page hands out lands, and under which name. */
export async function nextFile(
  host: Host,
  folder: string,
  act: () => Promise<void>,
): Promise<{ name: string; bytes: Buffer }> {
  if (host.electron === null) {
    const coming = host.page.waitForEvent('download')
    await act()
    const download = await coming
    const path = join(folder, download.suggestedFilename())
    await download.saveAs(path)
    return { name: download.suggestedFilename(), bytes: await readFile(path) }
  }
  // On the desktop a dialog asks where to; the test answers in its place.
  const coming = host.electron.evaluate(
    ({ session }, target) =>
      new Promise<string>((resolve) => {
        session.defaultSession.once('will-download', (_event, item) => {
          const name = item.getFilename()
          item.setSavePath(`${target}/${name}`)
          item.once('done', () => resolve(name))
        })
      }),
    folder,
  )
  await act()
  const name = await coming
  return { name, bytes: await readFile(join(folder, name)) }
}

import { mkdtemp, readFile, rm, stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { zipSync, type ZippableFile } from 'fflate'
import { parseHTML } from 'linkedom'
import type { Publisher } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { filesBelow } from './bundle/manifest.ts'
import { writeBundle } from './bundle/write.ts'
import { reportHtml } from './html.ts'
import { reportPdf } from './typst.ts'

/** The earliest time a zip can hold, in the zone of the machine as zip files have it, so that it is the same everywhere. */
const ZIP_TIME = new Date(1980, 0, 1)

export function createPublisher(): Publisher {
  const { document } = parseHTML('<!doctype html><html><body></body></html>')
  return {
    figures: { document },
    html: reportHtml,
    pdf: reportPdf,
    bundle: writeBundle,
    async bundleZip(subject, captures, extras, mostBytes, signal) {
      const home = await mkdtemp(join(tmpdir(), 'slewlight-bundle-'))
      try {
        const folder = join(home, 'bundle')
        await writeBundle(folder, subject, captures, extras, signal)
        const paths = await filesBelow(folder)
        const sizes = await Promise.all(paths.map(async (path) => (await stat(join(folder, path))).size))
        const bytes = sizes.reduce((sum, size) => sum + size, 0)
        if (bytes > mostBytes)
          throw new AppError(
            'conflict',
            `The bundle has ${Math.round(bytes / 1e6)} MB, more than the ${Math.round(mostBytes / 1e6)} MB that go through this window.`,
            'Make it on the command line: slewlight bundle.',
          )
        const files: Record<string, ZippableFile> = {}
        // Stored, not deflated: what is large is compressed already, and every version of the library makes the same bytes.
        for (const path of paths) files[path] = [await readFile(join(folder, path)), { level: 0, mtime: ZIP_TIME }]
        return zipSync(files)
      } finally {
        await rm(home, { recursive: true, force: true })
      }
    },
  }
}

import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parseHTML } from 'linkedom'
import type { Publisher } from '#main/core/ports.ts'
import { writeBundle } from './bundle/write.ts'
import { zipOf } from './bundle/zip.ts'
import { reportHtml } from './html.ts'
import { figurePng } from './raster.ts'
import { reportPdf } from './typst.ts'

export function createPublisher(): Publisher {
  const { document } = parseHTML('<!doctype html><html><body></body></html>')
  return {
    figures: { document },
    html: reportHtml,
    pdf: reportPdf,
    png: figurePng,
    bundle: writeBundle,
    async *bundleZip(subject, captures, extras, signal) {
      // Named after this process: where it is killed, the next host clears it away.
      const home = await mkdtemp(join(tmpdir(), `slewlight-bundle-${process.pid}-`))
      try {
        const folder = join(home, 'bundle')
        await writeBundle(folder, subject, captures, extras, signal)
        yield* zipOf(folder, signal)
      } finally {
        await rm(home, { recursive: true, force: true })
      }
    },
  }
}

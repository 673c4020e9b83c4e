/** Reports and bundles where the optional packages are not installed: told, and everything else is there. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it, vi } from 'vitest'
import { filesBelow } from '#main/publish/bundle/manifest.ts'
import { verifyFolder } from '#main/publish/bundle/verify.ts'
import { writeBundle } from '#main/publish/bundle/write.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { inventedCaptures, inventedEvidence, streamed, SUBJECT } from './invented.ts'

const missing = vi.hoisted(() => (name: string) => () => {
  throw new Error(`Cannot find package '${name}'`)
})
vi.mock('@resvg/resvg-js', missing('@resvg/resvg-js'))
vi.mock('@myriaddreamin/typst-ts-node-compiler', missing('@myriaddreamin/typst-ts-node-compiler'))

const home = mkdtempSync(join(tmpdir(), 'slewlight-without-'))
afterAll(() => rmSync(home, { recursive: true, force: true }))

it('says of a PDF what it needs and what to ask for instead', async () => {
  const nothing = { title: 'Invented', subtitle: '', warning: '', sections: [] }
  await expect(createPublisher().pdf(nothing)).rejects.toMatchObject({
    code: 'not-found',
    message: expect.stringContaining('optional package @myriaddreamin/typst-ts-node-compiler'),
    remedy: expect.stringContaining('Ask for HTML'),
  })
})

it('makes a bundle of SVG and CSV, without PNG, that is verified like any other', async () => {
  const captures = inventedCaptures()
  const bundle = join(home, 'bundle')
  await writeBundle(bundle, SUBJECT, streamed(captures), await inventedEvidence(captures))
  const files = await filesBelow(bundle)
  const endings = files.filter((path) => path.startsWith('figures/')).map((path) => path.slice(-4))
  expect(new Set(endings)).toEqual(new Set(['.svg', '.csv']))
  expect(readFileSync(join(bundle, 'ro-crate-metadata.json'), 'utf8')).not.toContain('.png')
  const measured = await verifyFolder(bundle, { measure: async (input) => measureCapture(input) })
  expect(measured).toMatchObject({ captures: captures.length, problems: [] })
})

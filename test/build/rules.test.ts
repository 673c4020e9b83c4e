/** The rules of imports catch what they are there for: a small tree with one wrong import each, most of them of a type. */
import { execFile } from 'node:child_process'
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { promisify } from 'node:util'
import { expect, it } from 'vitest'

const ROOT = join(import.meta.dirname, '../..')
const CRUISER = join(ROOT, 'node_modules/dependency-cruiser/bin/dependency-cruiser.mjs')

/** Rule and importing file of everything that breaks a rule in a tree of files. */
async function broken(files: Readonly<Record<string, string>>): Promise<string[]> {
  const folder = await mkdtemp(join(tmpdir(), 'slewlight-rules-'))
  try {
    for (const [path, text] of Object.entries(files)) {
      // oxlint-disable no-await-in-loop
      await mkdir(dirname(join(folder, path)), { recursive: true })
      await writeFile(join(folder, path), text)
      // oxlint-enable no-await-in-loop
    }
    const args = [CRUISER, '--config', join(ROOT, '.dependency-cruiser.cjs'), '--output-type', 'json']
    const told = await promisify(execFile)(process.execPath, [...args, 'src-shared', 'src-main', 'src-renderer'], {
      cwd: folder,
    }).catch((error: { stdout: string }) => error)
    const { summary } = JSON.parse(told.stdout) as {
      summary: { violations: { rule: { name: string }; from: string }[] }
    }
    return [...new Set(summary.violations.map(({ rule, from }) => `${rule.name}: ${from}`))].sort()
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

const TYPE = 'export interface A { readonly a: number }'
const reads = (path: string): string => `import type { A } from '${path}'\nexport const read = ({ a }: A) => a`

const GOOD = {
  'src-shared/domain/b.ts': TYPE,
  'src-main/core/b.ts': reads('../../src-shared/domain/b.ts'),
  'src-main/store/b.ts': TYPE,
  'src-main/threads/b.ts': TYPE,
  'src-main/analysis/b.ts': reads('../threads/b.ts'),
  'src-main/cli/b.ts': reads('../core/b.ts'),
  'src-renderer/app/b.ts': reads('../features/two/b.ts'),
  'src-renderer/client/b.ts': TYPE,
  'src-renderer/features/one/b.ts': reads('../../parts/b.ts'),
  'src-renderer/features/two/b.ts': TYPE,
  'src-renderer/parts/b.ts': reads('../client/b.ts'),
  'src-renderer/ui/b.ts': TYPE,
}

const WRONG = {
  'src-main/cli/a.ts': reads('../store/b.ts'),
  'src-main/analysis/a.ts': reads('../store/b.ts'),
  'src-main/threads/a.ts': reads('../store/b.ts'),
  'src-renderer/client/a.ts': reads('../ui/b.ts'),
  'src-renderer/features/one/a.ts': reads('../two/b.ts'),
  'src-renderer/features/two/a.ts': reads('../../app/b.ts'),
  'src-renderer/parts/a.ts': reads('../features/two/b.ts'),
  'src-renderer/plot/a.ts': reads('../client/b.ts'),
  'src-renderer/ui/a.ts': reads('../client/b.ts'),
  'src-renderer/ui/c.ts': `import type { D } from './d.ts'\nexport interface C { readonly d: D | null }`,
  'src-renderer/ui/d.ts': `import type { C } from './c.ts'\nexport interface D { readonly c: C | null }`,
}

it('finds every planted import that goes the wrong way, and nothing else', async () => {
  expect(await broken(GOOD)).toEqual([])
  expect(await broken({ ...GOOD, ...WRONG })).toEqual([
    'adapter-analysis-alone: src-main/analysis/a.ts',
    'adapter-threads-alone: src-main/threads/a.ts',
    'cli-behind-core: src-main/cli/a.ts',
    'features-stay-apart: src-renderer/features/one/a.ts',
    'features-stay-apart: src-renderer/features/two/a.ts',
    'no-circular: src-renderer/ui/c.ts',
    'renderer-client-shows-nothing: src-renderer/client/a.ts',
    'renderer-parts-below-features: src-renderer/parts/a.ts',
    'renderer-plot-draws-only: src-renderer/plot/a.ts',
    'renderer-ui-asks-nothing: src-renderer/ui/a.ts',
  ])
})

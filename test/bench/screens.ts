/** Figures of the screens, measured in Chromium by its own trace (`e2e/*.figures.ts`). */
import { spawnSync } from 'node:child_process'
import { readFileSync, rmSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import type { Figure } from './report.ts'

const results = (name: string): URL => new URL(`../../test-results/figures-${name}.json`, import.meta.url)

/** Runs the figures of one screen; the application must be built. Throws when they could not be measured. */
export function screenFigures(name: string): Figure[] {
  rmSync(results(name), { force: true })
  const root = fileURLToPath(new URL('../../', import.meta.url))
  const args = ['playwright', 'test', '--config', 'e2e/figures.config.ts', `${name}.figures`]
  const run = spawnSync('npx', ['--no-install', ...args], { cwd: root, encoding: 'utf8' })
  if (run.status !== 0) throw new Error(`The figures of ${name} could not be measured: ${run.stdout}${run.stderr}`)
  return JSON.parse(readFileSync(results(name), 'utf8')) as Figure[]
}

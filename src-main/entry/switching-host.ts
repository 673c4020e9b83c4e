/** One host after the other behind the same windows or address: the person's own archive, or the demo library. */
import { existsSync } from 'node:fs'
import { dirname } from 'node:path'
import type { ArchiveSwitch } from '#main/api/router.ts'
import { standardPaths } from '#main/platform/paths.ts'
import type { Serve, ServedPort } from '#main/transport/serve.ts'
import { AppError } from '#shared/domain/errors.ts'
import { simulationSchema } from '#shared/domain/rig.ts'
import type { ArchiveChoice } from '#shared/domain/views.ts'
import { composeHost, type ComposedHost, type HostOptions } from './compose.ts'
import { demoArchive, readyDemo } from './demo.ts'

export interface SwitchingHost {
  /** The one in use now. */
  readonly current: ComposedHost
  readonly archive: string
  readonly serve: Serve
  close(): Promise<void>
}

/** Time the answer to the page that asked has to arrive before its connection ends, ms. */
const ANSWER_MS = 200

/**
 * Opens the archive of the options. `onSwitch` is told of each host that takes over. Rejects as `composeHost` does; a
 * change that fails leaves everything as it is.
 */
export async function composeSwitching(
  options: Omit<HostOptions, 'archives'>,
  onSwitch: (host: ComposedHost) => void = () => undefined,
): Promise<SwitchingHost> {
  const { log } = options
  const startsOnDemo = dirname(options.archive) === dirname(demoArchive())
  const own = startsOnDemo ? standardPaths().archive : options.archive
  let choice: ArchiveChoice = startsOnDemo ? 'demo' : 'own'
  let archive = options.archive
  let switching = false
  let retired: Promise<void> = Promise.resolve()
  const ports = new Set<ServedPort>()

  const archives: ArchiveSwitch = {
    get current() {
      return choice
    },
    async open(next) {
      if (next === choice) return
      refuseAtWork(switching)
      switching = true
      try {
        await retired
        const path = next === 'demo' ? await madeDemo() : own
        if (path === null) return
        // A sweep may have been started while the library was made.
        refuseAtWork(false)
        const { salvage: _asked, ...plain } = options
        const host = await composeHost({
          ...plain,
          archive: path,
          archives,
          // No real rig has anything to store among invented data.
          rig: next === 'demo' ? { kind: 'simulated', simulation: simulationSchema.parse({}) } : options.rig,
        })
        const before = current
        const served = [...ports]
        current = host
        choice = next
        archive = path
        onSwitch(host)
        retired = retire(before, served)
      } finally {
        switching = false
      }
    },
  }

  function refuseAtWork(already: boolean): void {
    const { sweep, run, jobs } = current.core.system.state()
    const busy =
      sweep?.state === 'running' ||
      sweep?.state === 'ladder' ||
      run !== null ||
      jobs.some(({ state }) => state === 'running')
    if (busy || already)
      throw new AppError('conflict', 'The host is at work on the open archive.', 'Wait for it or stop it first.')
  }

  /** Path of the demo library; null when making it was cancelled. */
  async function madeDemo(): Promise<string | null> {
    if (existsSync(demoArchive())) return demoArchive()
    const job = current.core.openJob('demo', 'Making the demo library', { captures: 0 })
    try {
      const path = await readyDemo({
        log,
        signal: job.signal,
        onProgress: (done, total) => {
          job.progress(done, total)
          job.result({ captures: done })
        },
      })
      job.end()
      return path
    } catch (error) {
      job.fail(error)
      if (job.signal.aborted) return null
      throw error
    }
  }

  async function retire(host: ComposedHost, served: readonly ServedPort[]): Promise<void> {
    await new Promise((resolve) => setTimeout(resolve, ANSWER_MS))
    for (const port of served) port.close()
    await host.close().catch((error: unknown) => log.error('Closing an archive failed.', { error: String(error) }))
  }

  let current = await composeHost({ ...options, archives })
  onSwitch(current)
  return {
    get current() {
      return current
    },
    get archive() {
      return archive
    },
    serve(port, context) {
      ports.add(port)
      port.on('close', () => ports.delete(port))
      current.serve(port, context)
    },
    async close() {
      await retired
      await current.close()
    },
  }
}

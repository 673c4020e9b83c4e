/**
 * Builds the worker threads before the tests run. Node strips the types of a source by WebAssembly, in each thread anew,
 * and V8 crashes now and then when threads that do so come and go (SIGSEGV in `NativeModule::FreeCode`, seen with Node
 * 24.21 in 2 of 3 runs of 250 threads; none in as many without type stripping).
 */
import { fileURLToPath } from 'node:url'
import { build } from 'vite'
import { BUILT_WORKERS, WORKER_SOURCES } from './workers.ts'

const path = (name: string): string => fileURLToPath(new URL(`../../${name}`, import.meta.url))

export default async function buildWorkers(): Promise<void> {
  await build({
    configFile: false,
    root: path(''),
    logLevel: 'warn',
    resolve: { alias: { '#shared': path('src-shared'), '#main': path('src-main') } },
    ssr: { external: ['better-sqlite3'], noExternal: true },
    build: {
      ssr: true,
      outDir: fileURLToPath(BUILT_WORKERS),
      emptyOutDir: true,
      rolldownOptions: {
        input: Object.fromEntries(Object.entries(WORKER_SOURCES).map(([name, url]) => [name, fileURLToPath(url)])),
        output: { format: 'cjs', entryFileNames: '[name].js' },
      },
    },
  })
}

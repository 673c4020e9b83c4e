import { chmodSync } from 'node:fs'
import { join, resolve } from 'node:path'
import react from '@vitejs/plugin-react'
import { defineConfig } from 'electron-vite'
import type { Plugin } from 'vite'

const here = (path: string): string => resolve(import.meta.dirname, path)

/** The command line is run by name (`npx slewlight`), which needs the permission after every build. */
const executable: Plugin = {
  name: 'executable-command-line',
  writeBundle({ dir }) {
    if (dir !== undefined) chmodSync(join(dir, 'cli.js'), 0o755)
  },
}

export default defineConfig({
  main: {
    plugins: [executable],
    // Older Electron runtimes (Node 18) load the same bundles; libraries that exist only as ES modules are bundled.
    // The two native modules stay outside: they are the package's only dependencies.
    build: {
      target: 'node18',
      outDir: 'out/main',
      externalizeDeps: true,
      rolldownOptions: {
        input: {
          electron: here('src-main/entry/electron.ts'),
          server: here('src-main/entry/server.ts'),
          cli: here('src-main/entry/cli.ts'),
          start: here('src-main/entry/start.ts'),
        },
        // Optional: accelerators of the WebSocket library the typesetter for PDF and the renderer for PNG; the program works without them.
        external: ['bufferutil', 'utf-8-validate', '@myriaddreamin/typst-ts-node-compiler', '@resvg/resvg-js'],
        // Remarks in the output that name files of the machine it was built on.
        experimental: { attachDebugInfo: 'none' },
        output: { format: 'cjs', entryFileNames: '[name].js', chunkFileNames: 'chunks/[name]-[hash].js' },
      },
    },
  },
  preload: {
    build: {
      target: 'node18',
      outDir: 'out/preload',
      externalizeDeps: false,
      rolldownOptions: {
        input: { preload: here('src-main/electron/preload.ts') },
        // A sandboxed preload script has to be CommonJS, whatever its package says.
        output: { format: 'cjs', entryFileNames: '[name].cjs' },
      },
    },
  },
  renderer: {
    root: here('src-renderer'),
    // The compiler remembers what a component made of the same input: a moved view of a plot draws only the plot again.
    plugins: [react({ compiler: true })],
    build: {
      target: 'chrome114',
      outDir: here('out/renderer'),
      // The policy of the pages lets nothing in that is not a file of ours.
      assetsInlineLimit: 0,
      rolldownOptions: {
        input: { index: here('src-renderer/index.html'), stimulus: here('src-renderer/stimulus.html') },
      },
    },
  },
})

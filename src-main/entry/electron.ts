/** The desktop application: one host, its windows, and the only way between them. */
import './guard.ts'
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import {
  app,
  dialog,
  ipcMain,
  MessageChannelMain,
  powerSaveBlocker,
  session,
  shell,
  type BrowserWindow,
} from 'electron'
import { setMenu } from '#main/electron/menu.ts'
import { isSweeping, keepAwakeWhileSweeping } from '#main/electron/power.ts'
import { APP_ORIGIN, declareScheme, serveScheme } from '#main/electron/protocol.ts'
import { secureContents, secureSession } from '#main/electron/security.ts'
import { createWindows, type Windows } from '#main/electron/windows.ts'
import { openLog } from '#main/platform/log.ts'
import { findFile, securityHeaders } from '#main/transport/files.ts'
import { serveIpc } from '#main/transport/ipc.ts'
import { toErrorDetail, type ErrorDetail } from '#shared/domain/errors.ts'
import type { HostOptions as ComposeOptions } from './compose.ts'
import { readyDemo } from './demo.ts'
import { parseOptions, type HostOptions } from './options.ts'
import { composeSwitching, type SwitchingHost } from './switching-host.ts'

const folder = (path: string): string => fileURLToPath(new URL(path, import.meta.url))

// The stimulus page has to draw every frame wherever it is, and its grey levels must reach the panel unconverted.
for (const name of [
  'disable-renderer-backgrounding',
  'disable-background-timer-throttling',
  'disable-backgrounding-occluded-windows',
])
  app.commandLine.appendSwitch(name)
app.commandLine.appendSwitch('force-color-profile', 'srgb')

app.setName('Slewlight')
declareScheme()

const developmentUrl = app.isPackaged ? undefined : process.env['ELECTRON_RENDERER_URL']
const origin = developmentUrl ?? APP_ORIGIN

let host: SwitchingHost | null = null
let stopKeepingAwake: () => void = () => undefined
let windows: Windows | null = null

async function start(options: HostOptions): Promise<void> {
  const log = openLog(options.logFolder)
  process.on('unhandledRejection', (reason) => log.error('An error was not handled.', { reason: String(reason) }))
  const security = { origin, log, development: developmentUrl !== undefined }
  secureContents(app, security)
  await app.whenReady()
  secureSession(session.defaultSession, security)
  const interfaceFolder = folder('../renderer')
  serveScheme({ find: (path) => findFile(interfaceFolder, path), headers: securityHeaders() })
  const shown = createWindows({
    preload: folder('../preload/preload.cjs'),
    pageUrl: (name) => `${origin}/${name}`,
    log,
    mayClose: askBeforeClosing,
  })
  windows = shown
  const archive = options.demo ? await readyDemo({ log }) : options.archive
  const composed = await composeOrAsk({
    ...options,
    archive,
    host: 'desktop',
    log,
    windows: shown.stimulus,
    tell,
    chooseArchives,
  })
  if (composed === null) {
    app.exit(1)
    return
  }
  host = composed
  serveIpc({
    onRequest: (channel, listener) => ipcMain.on(channel, listener),
    newChannel: () => new MessageChannelMain(),
    isOwnWindow: (id) => shown.isOwn(id),
    origin,
    serve: composed.serve,
    log,
  })
  setMenu({
    development: !app.isPackaged,
    showFolder: () => {
      void shell.openPath(dirname(composed.archive))
      void shell.openPath(options.logFolder)
    },
  })
  await shown.openMain()
}

/** Opens the archive; where that fails, the operator chooses a way on. Null when there is none. */
async function composeOrAsk(options: ComposeOptions): Promise<SwitchingHost | null> {
  try {
    return await composeSwitching(options, ({ core: { system } }) => {
      stopKeepingAwake()
      stopKeepingAwake = keepAwakeWhileSweeping(
        powerSaveBlocker,
        () => system.state(),
        (listener) => system.watch(listener),
      )
    })
  } catch (error) {
    const detail = toErrorDetail(error)
    options.log.error('The archive cannot be used.', { ...detail })
    const next = await askForWayOn(detail)
    if (next === 'quit') return null
    return composeOrAsk({ ...options, salvage: next === 'salvage' })
  }
}

async function chooseArchives(): Promise<readonly string[]> {
  const { filePaths } = await dialog.showOpenDialog({
    title: 'Archives to compare with',
    properties: ['openFile', 'multiSelections'],
    filters: [
      { name: 'Slewlight archives', extensions: ['sqlite', 'slewlight'] },
      { name: 'All files', extensions: ['*'] },
    ],
  })
  return filePaths
}

async function tell(words: string): Promise<void> {
  await dialog.showMessageBox({ type: 'info', title: 'Slewlight', message: words, buttons: ['Go on'] })
}

async function askForWayOn({ code, message, remedy }: ErrorDetail): Promise<'retry' | 'salvage' | 'quit'> {
  const ways = code === 'archive-damaged' ? (['salvage', 'quit'] as const) : (['retry', 'quit'] as const)
  const words = { retry: 'Try again', salvage: 'Set it aside and copy what can be read', quit: 'Quit' }
  const { response } = await dialog.showMessageBox({
    type: 'error',
    title: 'Slewlight',
    message,
    detail: remedy,
    buttons: ways.map((way) => words[way]),
    defaultId: 0,
    cancelId: 1,
  })
  return ways[response] ?? 'quit'
}

/** A running sweep is not given up by a slip of the hand; what is captured is safe either way. */
async function askBeforeClosing(window: BrowserWindow): Promise<boolean> {
  if (host === null || !isSweeping(host.current.core.system.state())) return true
  const { response } = await dialog.showMessageBox(window, {
    type: 'question',
    message: 'A sweep is running.',
    detail: 'It pauses when the window closes and can be resumed at the next capture.',
    buttons: ['Keep running', 'Pause and close'],
    defaultId: 0,
    cancelId: 0,
  })
  return response === 1
}

function fail(error: unknown): void {
  const { message, remedy } = toErrorDetail(error)
  process.stderr.write(`${message} ${remedy}\n`)
  dialog.showErrorBox('Slewlight cannot start', `${message}\n\n${remedy}`)
  app.exit(1)
}

let closing = false
app.on('before-quit', (event) => {
  if (host === null || closing) return
  event.preventDefault()
  closing = true
  void host.close().finally(() => app.exit(0))
})
app.on('window-all-closed', () => app.quit())
app.on('second-instance', () => windows?.focusMain())

if (app.requestSingleInstanceLock()) {
  try {
    start(parseOptions(process.argv.slice(1))).catch(fail)
  } catch (error) {
    fail(error)
  }
} else app.quit()

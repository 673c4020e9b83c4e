/** The main window and the window on the display under test. */
import { BrowserWindow, screen, type Display, type WebPreferences } from 'electron'
import type { Log } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'

/** A page that dies more often than this within the minute is left alone, so that it cannot loop. */
const RELOADS_PER_MINUTE = 3

export interface WindowsOptions {
  readonly preload: string
  /** Address of a page of ours by file name. */
  readonly pageUrl: (name: 'index.html' | 'stimulus.html') => string
  readonly log: Log
  /** Asked before the main window closes. */
  readonly mayClose: (window: BrowserWindow) => Promise<boolean>
}

interface ScreenInfo {
  readonly id: number
  readonly label: string
  readonly refreshHz: number
  readonly primary: boolean
}

export interface Windows {
  openMain(): Promise<void>
  focusMain(): void
  isOwn(webContentsId: number): boolean
  readonly stimulus: {
    screens(): ScreenInfo[]
    /** Opens (or moves) the window; rejects with `not-found` when there is no such screen. */
    open(screenId: number): Promise<void>
    close(): Promise<void>
    isOpen(): boolean
  }
}

export function createWindows(options: WindowsOptions): Windows {
  const { preload, pageUrl, log, mayClose } = options
  const own = new Set<number>()
  let main: BrowserWindow | null = null
  let stimulus: BrowserWindow | null = null
  let stimulusScreen: number | null = null

  const preferences: WebPreferences = {
    preload,
    contextIsolation: true,
    sandbox: true,
    nodeIntegration: false,
    webviewTag: false,
    spellcheck: false,
  }

  const register = (window: BrowserWindow, name: string): void => {
    const { id } = window.webContents
    own.add(id)
    window.on('closed', () => own.delete(id))
    let reloads: number[] = []
    window.webContents.on('render-process-gone', (_event, { reason }) => {
      if (reason === 'clean-exit') return
      const now = Date.now()
      reloads = [...reloads.filter((at) => now - at < 60_000), now]
      log.error(`The ${name} crashed.`, { reason, reloads: reloads.length })
      // The host keeps running: a fresh page attaches to it and shows the present state.
      if (reloads.length <= RELOADS_PER_MINUTE && !window.isDestroyed()) window.webContents.reload()
    })
    window.webContents.on('unresponsive', () => log.warn(`The ${name} does not respond.`))
  }

  const openMain = async (): Promise<void> => {
    const window = new BrowserWindow({
      width: 1360,
      height: 860,
      minWidth: 800,
      minHeight: 560,
      show: false,
      backgroundColor: '#ffffff',
      webPreferences: preferences,
    })
    main = window
    register(window, 'main window')
    window.once('ready-to-show', () => window.show())
    let agreed = false
    window.on('close', (event) => {
      if (agreed) return
      event.preventDefault()
      mayClose(window)
        .then((yes) => {
          agreed = yes
          if (yes) window.close()
          return yes
        })
        .catch((error: unknown) => log.error('Closing failed.', { error: String(error) }))
    })
    window.on('closed', () => {
      main = null
      stimulus?.destroy()
    })
    await window.loadURL(pageUrl('index.html'))
  }

  // A window without its screen would be moved by the system onto another one, and flash there.
  screen.on('display-removed', (_event, { id }) => {
    if (id === stimulusScreen) stimulus?.destroy()
  })

  const openStimulus = async (screenId: number): Promise<void> => {
    const display = screen.getAllDisplays().find(({ id }) => id === screenId)
    if (display === undefined)
      throw new AppError('not-found', 'That screen is no longer connected.', 'Choose another screen.')
    stimulus?.destroy()
    const window = new BrowserWindow({
      ...display.bounds,
      title: 'Slewlight stimulus',
      frame: false,
      fullscreen: true,
      kiosk: true,
      skipTaskbar: true,
      backgroundColor: '#000000',
      enableLargerThanScreen: true,
      // Hidden or throttled pages draw no frames; this window is shown once and never hidden.
      webPreferences: { ...preferences, backgroundThrottling: false },
    })
    stimulus = window
    stimulusScreen = screenId
    register(window, 'stimulus window')
    window.removeMenu()
    window.webContents.on('before-input-event', (event, input) => {
      if (input.type !== 'keyDown' || input.key !== 'Escape') return
      event.preventDefault()
      window.close()
    })
    window.on('closed', () => {
      if (stimulus === window) stimulus = null
    })
    await window.loadURL(pageUrl('stimulus.html'))
  }

  return {
    openMain,
    focusMain() {
      if (main === null) return
      if (main.isMinimized()) main.restore()
      main.show()
      main.focus()
    },
    isOwn: (id) => own.has(id),
    stimulus: {
      screens: () => screensOf(screen.getAllDisplays(), screen.getPrimaryDisplay().id),
      open: openStimulus,
      async close() {
        stimulus?.destroy()
        stimulus = null
      },
      isOpen: () => stimulus !== null,
    },
  }
}

function screensOf(displays: readonly Display[], primaryId: number): ScreenInfo[] {
  return displays.map(({ id, label, displayFrequency, size }, i) => ({
    id,
    label: `${label === '' ? `Screen ${i + 1}` : label}, ${size.width} × ${size.height}`,
    refreshHz: displayFrequency,
    primary: id === primaryId,
  }))
}

/** Going full screen, on a chosen screen where the browser knows them. */

/** What is used of the Window Management API, which the standard typings leave out. */
interface ScreenDetailed extends Screen {
  readonly label: string
  readonly isPrimary: boolean
}
interface ScreenAware {
  getScreenDetails?(): Promise<{ readonly screens: readonly ScreenDetailed[] }>
}

export const canListScreens = (): boolean =>
  'getScreenDetails' in window && (screen as Screen & { isExtended?: boolean }).isExtended === true

/** Asks the user for permission; empty when it is refused. */
export async function listScreens(): Promise<readonly ScreenDetailed[]> {
  try {
    return (await (window as ScreenAware).getScreenDetails?.())?.screens ?? []
  } catch {
    return []
  }
}

/** Must be called from a click. */
export async function goFullScreen(target: Screen | undefined): Promise<void> {
  const options: FullscreenOptions & { screen?: Screen } = { navigationUI: 'hide' }
  if (target !== undefined) options.screen = target
  await document.documentElement.requestFullscreen(options)
}

/** Full screen by request, or as a window without a frame that fills its screen. */
export function isFullScreen(): boolean {
  return document.fullscreenElement !== null || (innerWidth >= screen.width && innerHeight >= screen.height)
}

/** Keeps the screen on while the page is attached, where the browser can. */
export async function keepAwake(): Promise<void> {
  try {
    await navigator.wakeLock.request('screen')
  } catch {
    // Refused or unknown: the host keeps the display on by its own means, or the operator's settings do.
  }
}

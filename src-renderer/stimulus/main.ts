import { toErrorDetail } from '#shared/domain/errors.ts'
import { desktopBridge } from '../client/bridge.ts'
import { connect, connection, type Client } from '../client/connect.ts'
import { carryOut } from './commands.ts'
import { startFrameClock, type FrameClock } from './frame-clock.ts'
import { canListScreens, goFullScreen, isFullScreen, keepAwake, listScreens } from './full-screen.ts'
import { createGuide } from './guide.ts'
import { createLayers } from './layers.ts'
import { listenForInput } from './reactions.ts'

function element<T extends HTMLElement>(id: string, type: new () => T): T {
  const found = document.getElementById(id)
  if (!(found instanceof type)) throw new TypeError(`The page has no ${id}.`)
  return found
}

const notice = element('notice', HTMLElement)
const form = element('start', HTMLFormElement)
const status = element('status', HTMLParagraphElement)
const select = element('screen', HTMLSelectElement)
const listButton = element('list-screens', HTMLButtonElement)
const aim = element('aim', HTMLDivElement)
const layers = createLayers([...document.querySelectorAll<HTMLElement>('.layer')])
const guide = createGuide(element('guide', HTMLDivElement))

const say = (text: string): void => {
  status.textContent = text
}

/** Between sweeps: where the patch will be, and what is going on. */
function rest(text: string): void {
  layers.hide()
  guide.hide()
  notice.hidden = false
  aim.hidden = !form.hidden
  say(text)
}

/** Follows the host's commands until another page takes over; survives breaks of the line. */
async function attach(client: Client, clock: FrameClock): Promise<void> {
  for (;;) {
    try {
      // One attachment after the other.
      // oxlint-disable-next-line no-await-in-loop
      await attachOnce(client, clock)
      rest('Another stimulus page has taken over. Reload this page to use it again.')
      return
    } catch (error) {
      const state = connection.state()
      rest(state.kind === 'refused' ? state.detail.message : `${toErrorDetail(error).message} Trying again…`)
      if (state.kind === 'refused') return
      // oxlint-disable-next-line no-await-in-loop
      await new Promise((resolve) => setTimeout(resolve, 500))
    }
  }
}

async function attachOnce(client: Client, clock: FrameClock): Promise<void> {
  const commands = await client.stimulus.attach()
  const { innerWidth: widthPx, innerHeight: heightPx } = window
  const ready = () =>
    client.stimulus.report({ kind: 'ready', fullScreen: isFullScreen(), widthPx, heightPx }).catch(() => undefined)
  const onChange = () => void ready()
  await ready()
  rest('Ready. Place the sensor on the dashed square, then start the sweep from the main window.')
  document.addEventListener('fullscreenchange', onChange)
  addEventListener('resize', onChange)
  const reactions = listenForInput(
    window,
    () => layers.swap(),
    (report) => {
      void client.stimulus.report(report).catch(() => undefined)
    },
  )
  try {
    for await (const command of commands) {
      if (command.kind === 'prepare' || command.kind === 'picture') {
        notice.hidden = true
        aim.hidden = true
      }
      const report = await carryOut(command, layers, clock, reactions, guide)
      if (command.kind === 'release') rest('The sweep has ended or pauses.')
      if (report !== null) await client.stimulus.report(report)
    }
  } finally {
    document.removeEventListener('fullscreenchange', onChange)
    removeEventListener('resize', onChange)
    reactions.stop()
  }
}

async function start(): Promise<void> {
  form.hidden = true
  document.body.classList.add('attached')
  say('Connecting…')
  void keepAwake()
  try {
    const client = await connect()
    await attach(client, startFrameClock(requestAnimationFrame))
  } catch (error) {
    const { message, remedy } = toErrorDetail(error)
    document.body.classList.remove('attached')
    rest(`${message} ${remedy}`)
  }
}

let screens: readonly Screen[] = []

async function offerScreens(): Promise<void> {
  const found = await listScreens()
  screens = found
  const options = found.map(
    (one, i) => new Option(`${one.label || `Screen ${i + 1}`}, ${one.width} × ${one.height}`, String(i)),
  )
  select.replaceChildren(...options)
  element('screens', HTMLParagraphElement).hidden = found.length === 0
  listButton.hidden = found.length > 0
}

listButton.hidden = !canListScreens()
listButton.addEventListener('click', () => void offerScreens())
form.addEventListener('submit', (event) => {
  event.preventDefault()
  // A refused full screen is no reason not to start: the host is told and says so.
  void goFullScreen(screens[Number(select.value)]).then(start, start)
})
// The desktop opens this page full screen by itself, on the screen the operator chose there.
if (desktopBridge() !== undefined) void start()

import { useState, type ReactNode } from 'react'
import { useHost, useHostState } from '../client/host.tsx'
import { useArchiveChoice, useOpenArchive } from '../client/use-archive.ts'
import { JobBar } from '../parts/job-progress.tsx'
import { Action, StatusDot } from '../ui/controls.tsx'
import { useShortcut } from '../ui/shortcuts.ts'
import { setTheme, useTheme } from '../ui/theme.ts'
import { ErrorBoundary } from './error-boundary.tsx'
import { Help } from './help.tsx'
import { NoticeList } from './notice-list.tsx'
import { RecipeBadge } from './recipe-badge.tsx'
import { parseRoute, useHash } from '../navigation/route.ts'
import { SCREENS } from './screens.ts'

const LINK_WORDS = { connecting: 'Connecting', lost: 'Host lost', refused: 'Refused' } as const
const LINK_TONES = { connecting: 'warn', lost: 'bad', refused: 'bad' } as const

export function Shell() {
  const link = useHost((snapshot) => snapshot.link)
  const attached = useHost((snapshot) => snapshot.state !== null)
  const theme = useTheme()
  const route = parseRoute(useHash())
  const screen = SCREENS.find(({ id }) => id === route.screen) ?? SCREENS[0]
  const [helping, setHelping] = useState(false)
  const toggleTheme = () => setTheme(theme === 'dark' ? 'light' : 'dark')
  useShortcut('help', () => setHelping((open) => !open))
  useShortcut('theme', toggleTheme)
  if (screen === undefined) return null
  const { Component } = screen
  return (
    <div className="shell">
      <header className="top-bar">
        <h1 className="product">Slewlight</h1>
        <nav aria-label="Screens" className="screens">
          {SCREENS.map(({ id, title }) => (
            <a key={id} href={`#/${id}`} aria-current={id === screen.id ? 'page' : undefined}>
              {title}
            </a>
          ))}
        </nav>
        <span className="pane-space" />
        {attached ? <RecipeBadge /> : null}
        {link === 'open' ? null : <StatusDot tone={LINK_TONES[link]}>{LINK_WORDS[link]}</StatusDot>}
        <Action tone="quiet" size="small" onPress={toggleTheme}>
          {theme === 'dark' ? 'Light theme' : 'Dark theme'}
        </Action>
        <Action tone="quiet" size="small" onPress={() => setHelping(true)}>
          Help
        </Action>
      </header>
      <LinkBanner />
      {attached ? <DemoBanner /> : null}
      <main className="screen" id="screen">
        <ErrorBoundary key={screen.id}>{attached ? <Component /> : <Waiting />}</ErrorBoundary>
      </main>
      {attached ? <DemoInTheMaking /> : null}
      <NoticeList />
      <Help isOpen={helping} onClose={() => setHelping(false)} />
    </div>
  )
}

function Banner({ children }: { children: ReactNode }) {
  return (
    <div className="banner" role="alert">
      {children}
    </div>
  )
}

/** Nobody may take what is shown here for measured. */
function DemoBanner() {
  const choice = useArchiveChoice()
  const { open, busy } = useOpenArchive('Go back to your archive')
  if (choice !== 'demo') return null
  return (
    <aside aria-label="Which archive">
      <div className="demo-banner" role="note">
        <StatusDot tone="warn">Demo library: every display and number here is invented.</StatusDot>
        <Action size="small" isPending={busy} onPress={() => void open('own')}>
          Go back to your archive
        </Action>
      </div>
    </aside>
  )
}

/** Below the screen, so that nothing moves away under the pointer. */
function DemoInTheMaking() {
  const job = useHostState((state) => state.jobs.find(({ kind, state: now }) => kind === 'demo' && now === 'running'))
  if (job === undefined) return null
  return (
    <aside aria-label="Demo library in the making" className="demo-making">
      <JobBar job={job} />
    </aside>
  )
}

/** Says that the picture is old, and what that means for the work. */
function LinkBanner() {
  const { link, problem } = useHost()
  if (link === 'refused')
    return (
      <Banner>
        <strong>{problem?.message}</strong> {problem?.remedy}
      </Banner>
    )
  if (link !== 'lost') return null
  return (
    <Banner>
      <strong>The host does not answer; trying again.</strong> What is shown is from before the connection was lost.
      Stored captures are safe; whether the sweep is still running shows once the host is back.
    </Banner>
  )
}

function Waiting() {
  const { link } = useHost()
  return (
    <div className="waiting" role="status">
      {link === 'refused' ? 'No access to the host.' : 'Connecting to the host…'}
    </div>
  )
}

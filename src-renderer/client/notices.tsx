/** Messages that ask for attention: what happened and what to do. Held outside React so that anything can raise one. */
import { createContext, use, type ReactNode } from 'react'

export interface Notice {
  readonly id: number
  readonly kind: 'error' | 'info'
  readonly title: string
  readonly message: string
  readonly remedy: string
  /** How often the same notice was raised. */
  readonly times: number
}

/** How long a notice stands unless it is raised again, ms: what is only said, and what went wrong. Both are in the log. */
const NOTICE_MS = { info: 6000, error: 20_000 } as const

/** Older notices give way, so that a failing host cannot fill the screen or the memory. */
const NOTICE_LIMIT = 4

export class NoticeBoard {
  #notices: readonly Notice[] = []
  #nextId = 1
  readonly #timers = new Map<number, ReturnType<typeof setTimeout>>()
  readonly #listeners = new Set<() => void>()
  #held = false

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }
  readonly all = (): readonly Notice[] => this.#notices

  /** Answers the notice's id, for taking it away again. */
  readonly raise = (notice: Omit<Notice, 'id' | 'times'>): number => {
    const same = this.#notices.find(
      (n) => n.title === notice.title && n.message === notice.message && n.kind === notice.kind,
    )
    const rest = this.#notices.filter((n) => n !== same)
    const id = same?.id ?? this.#nextId++
    this.#set([...rest, { ...notice, id, times: (same?.times ?? 0) + 1 }].slice(-NOTICE_LIMIT))
    this.#expire(id, NOTICE_MS[notice.kind])
    return id
  }

  readonly dismiss = (id: number): void => this.#set(this.#notices.filter((n) => n.id !== id))

  /** What was tried worked in the end: errors under its title are no longer true. */
  readonly settle = (title: string): void => {
    if (this.#notices.some((n) => n.title === title)) this.#set(this.#notices.filter((n) => n.title !== title))
  }

  /** While a notice is read, by pointer or focus, none goes away. */
  readonly hold = (held: boolean): void => {
    this.#held = held
  }

  #expire(id: number, ms: number): void {
    clearTimeout(this.#timers.get(id))
    const timer = setTimeout(() => {
      if (this.#held) return this.#expire(id, NOTICE_MS.info)
      this.#timers.delete(id)
      this.dismiss(id)
    }, ms)
    this.#timers.set(id, timer)
  }

  #set(notices: readonly Notice[]): void {
    this.#notices = notices
    for (const listener of this.#listeners) listener()
  }
}

const NoticeContext = createContext<NoticeBoard | null>(null)

export function NoticeProvider({ board, children }: { board: NoticeBoard; children: ReactNode }) {
  return <NoticeContext value={board}>{children}</NoticeContext>
}

export function useNotices(): NoticeBoard {
  const board = use(NoticeContext)
  if (board === null) throw new Error('No notice board around this component.')
  return board
}

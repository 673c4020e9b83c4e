import { useEffect, useRef } from 'react'
import { type Judgement, USUAL_JUDGEMENT } from '#shared/findings/campaign/figures.ts'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { beginHistory, recordEdit, redoEdit, undoEdit, type UndoHistory } from '../../ui/undo-history.ts'
import { useKept } from '../../ui/use-kept.ts'
import { useStable } from '../../ui/use-stable.ts'

/** Edits of one field that follow one another faster than this are one step of undo, ms. */
const GESTURE_MS = 900
/** A choice is kept in the archive once it has rested so long, ms. */
const REST_MS = 400

interface Gesture {
  readonly field: string
  readonly at: number
}

type Edits = UndoHistory<Judgement, Gesture>

/** How a campaign is judged: at once on the screen, kept with the campaign, every step undone by hand. */
export interface JudgementEditor {
  readonly judgement: Judgement
  /** Nobody has chosen otherwise. */
  readonly isUsual: boolean
  readonly edit: (field: string, judgement: Judgement) => void
  readonly undo: (() => void) | null
  readonly redo: (() => void) | null
}

const isUsual = (judgement: Judgement): boolean => JSON.stringify(judgement) === JSON.stringify(USUAL_JUDGEMENT)

/** Null while the archive is still being asked. The component is one for each campaign. */
export function useJudgement(campaignId: number): JudgementEditor | null {
  const stored = useHostQuery(['campaigns', 'judgement', campaignId], (client, signal) =>
    client.campaigns.judgement({ campaignId }, { signal }),
  )
  const [edits, setEdits] = useKept<Edits | null>(`judgement-${campaignId}`, null)
  const { run: keep } = useCommand('The limits could not be kept', (client, judgement: Judgement) =>
    client.campaigns.judge({ campaignId, judgement: isUsual(judgement) ? null : judgement }),
  )
  const waiting = useRef<{ readonly judgement: Judgement; readonly timer: ReturnType<typeof setTimeout> } | null>(null)
  const flush = useStable(() => {
    if (waiting.current === null) return
    const { judgement, timer } = waiting.current
    clearTimeout(timer)
    waiting.current = null
    void keep(judgement)
  })
  // Whoever leaves the screen within the rest has chosen all the same.
  useEffect(() => flush, [flush])
  const change = (next: Edits): void => {
    setEdits(next)
    clearTimeout(waiting.current?.timer)
    waiting.current = { judgement: next.present, timer: setTimeout(flush, REST_MS) }
  }
  if (stored.data === undefined && stored.error === null) return null
  const history: Edits = edits ?? beginHistory(stored.data ?? USUAL_JUDGEMENT)
  return {
    judgement: history.present,
    isUsual: isUsual(history.present),
    edit: (field, judgement) => {
      const last = history.past.at(-1)?.note
      const at = performance.now()
      change(recordEdit(history, judgement, { field, at }, last?.field === field && at - last.at < GESTURE_MS))
    },
    undo: history.past.length === 0 ? null : () => change(undoEdit(history)),
    redo: history.future.length === 0 ? null : () => change(redoEdit(history)),
  }
}

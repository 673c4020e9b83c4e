import { useEffect, useImperativeHandle, useRef, useState, type Ref } from 'react'
import type { CaptureDetail, NewReviews, ReviewScope } from '#shared/domain/desk.ts'
import type { Override, ReviewDecision } from '#shared/domain/views.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { dayAndTime, plural } from '../../ui/format.ts'
import { useKept } from '../../ui/use-kept.ts'
import { REVIEW_WORDS } from '../../ui/words.ts'
import { isUntouched } from './marks.ts'
import { MarksForm, type MarksFormProps } from './marks-form.tsx'
import { NoteForm } from './note-form.tsx'
import { ONE, scopesOf } from './review-scope.ts'
import { CONSEQUENCES, DECISION_LABELS, REASONS, RETAKE_OF_IMPORT } from './review-words.ts'
import { useCaptureCount, type ListFilter } from './use-capture-pages.ts'
import { useReviewer } from './use-reviewer.ts'

const DECISIONS = (['keep', 'exclude', 'retake', 'override'] as const).map((id) => ({ id, label: DECISION_LABELS[id] }))

export interface ReviewPanelHandle {
  /** Chooses a decision and puts the caret where its reason is written. */
  decide(decision: ReviewDecision): void
}

export interface ReviewPanelProps {
  readonly ref: Ref<ReviewPanelHandle>
  readonly detail: CaptureDetail
  /** The sweep came out of files. */
  readonly imported: boolean
  readonly marks: MarksFormProps
  /** The capture is one of the doubtful ones; a decision on it leads to the next. */
  readonly queued: boolean
  readonly onDecided: () => void
}

interface Choice {
  readonly captureId: number
  readonly decision: ReviewDecision
}

/** What a person decides about the capture shown, and why. Nothing is asked twice: every decision can be undone. */
export function ReviewPanel({ ref, detail, imported, marks: form, queued, onDecided }: ReviewPanelProps) {
  const { info } = detail
  const { marks } = form
  const box = useRef<HTMLDivElement>(null)
  // A started decision outlives another tab and another size of the window.
  const [choice, setChoice] = useKept<Choice | null>('traces: started decision', null)
  const [reason, setReason] = useKept('traces: reason of the started decision', '')
  const [reviewer, name] = useReviewer()
  const recipeHash = useHostState((state) => state.recipeHash)
  const [scopeId, setScopeId] = useKept('traces: what the started decision applies to', ONE)
  const [tried, setTried] = useState(false)
  const focusReason = useRef(false)
  const chosen = choice?.captureId === info.id ? choice.decision : null
  // Marks may also be taken into hand from the plot's own tools.
  const decision = marks.moving ? 'override' : chosen === 'override' ? null : chosen

  const decide = (next: ReviewDecision) => {
    if (next === decision) return
    setChoice({ captureId: info.id, decision: next })
    setReason('')
    setTried(false)
    setScopeId(ONE)
    if (next === 'override') marks.start()
    else marks.stop()
  }
  useImperativeHandle(ref, () => ({
    decide(next) {
      focusReason.current = next !== 'override'
      decide(next)
    },
  }))
  useEffect(() => {
    if (!focusReason.current || decision === null) return
    focusReason.current = false
    box.current?.querySelector<HTMLInputElement>('.review-reason input')?.focus()
  })

  const scopes = scopesOf(
    info,
    (detail.result?.flags ?? []).map(({ id }) => id),
    recipeHash,
  )
  const chosenScope = scopes.find(({ id }) => id === scopeId) ?? scopes[0]
  // Marks are moved one capture at a time.
  const scope = decision === 'override' ? null : (chosenScope?.scope ?? null)
  const add = useCommand(
    'The decision could not be stored',
    (client, entry: { decision: ReviewDecision; reason: string; reviewer: string; override: Override | null }) =>
      client.reviews.add({ captureId: info.id, ...entry }),
  )
  const addMany = useCommand('The decisions could not be stored', (client, reviews: NewReviews) =>
    client.reviews.addMany(reviews),
  )
  const untouched = decision === 'override' && isUntouched(marks.draft)
  const complete = reason.trim() !== '' && reviewer.trim() !== '' && !untouched
  const submit = async () => {
    setTried(true)
    if (decision === null || !complete || add.busy || addMany.busy) return
    const by = { reason: reason.trim(), reviewer: reviewer.trim() }
    const stored =
      scope !== null && decision !== 'override'
        ? await addMany.run({ scope, decision, ...by })
        : await add.run({ decision, ...by, override: decision === 'override' ? marks.draft : null })
    if (stored === null) return
    marks.stop()
    setChoice(null)
    setReason('')
    setTried(false)
    if (queued) onDecided()
    // The form goes; whoever works by keyboard stays here and hears what stands now.
    box.current?.querySelector<HTMLElement>('.standing')?.focus()
  }

  return (
    <div ref={box} className="review-panel">
      <Standing detail={detail} />
      <Segmented label="Decision" value={decision} choices={DECISIONS} onChange={decide} />
      {decision === null ? null : (
        <form
          className="stack"
          onSubmit={(event) => {
            event.preventDefault()
            void submit()
          }}
        >
          {decision === 'override' ? (
            <MarksForm {...form} />
          ) : (
            <SelectInput
              label="Applies to"
              value={chosenScope?.id ?? ONE}
              choices={scopes.map(({ id, label }) => ({ id, label }))}
              onChange={setScopeId}
            />
          )}
          <div className="review-fields">
            <div className="review-reason">
              <TextInput
                label="Reason"
                value={reason}
                onChange={setReason}
                maxLength={500}
                error={tried && reason.trim() === '' ? 'Write or choose a reason.' : undefined}
              />
            </div>
            <TextInput
              label="Your name"
              value={reviewer}
              onChange={name}
              maxLength={80}
              error={tried && reviewer.trim() === '' ? 'Enter your name.' : undefined}
            />
          </div>
          <div className="reason-chips" role="group" aria-label="Common reasons">
            {REASONS[decision].map((text) => (
              <Action key={text} size="small" aria-pressed={reason === text} onPress={() => setReason(text)}>
                {text}
              </Action>
            ))}
          </div>
          {tried && untouched ? <p className="problem">No mark has been moved: drag one or change a number.</p> : null}
          <div className="row review-actions">
            <Action type="submit" tone="main" isPending={add.busy || addMany.busy}>
              {decision === 'override' ? (
                'Store the moved marks'
              ) : scope === null ? (
                `${DECISION_LABELS[decision]} capture ${info.id}`
              ) : (
                <ManyLabel decision={DECISION_LABELS[decision]} scope={scope} />
              )}
            </Action>
            <Action
              tone="quiet"
              onPress={() => {
                marks.stop()
                setChoice(null)
              }}
            >
              Cancel
            </Action>
          </div>
          {scope === null ? null : (
            <p className="hint">Captures reviewed before keep their decision. One step undoes all of it.</p>
          )}
          <p className="hint">{imported && decision === 'retake' ? RETAKE_OF_IMPORT : CONSEQUENCES[decision]}</p>
        </form>
      )}
      <NoteForm key={info.id} detail={detail} reviewer={reviewer} onReviewer={decision === null ? name : null} />
    </div>
  )
}

/** How many captures the decision is about: the good ones of the scope that nobody has reviewed. */
function ManyLabel({ decision, scope }: { decision: string; scope: ReviewScope }) {
  const { total } = useCaptureCount(manyFilter(scope))
  return <>{total === null ? `${decision} …` : `${decision} ${plural(total, 'capture')}`}</>
}

const manyFilter = (scope: ReviewScope): ListFilter => ({
  ...scope,
  verdict: 'good',
  review: 'none',
  sort: { by: 'id', descending: false },
})

function Standing({ detail }: { detail: CaptureDetail }) {
  const standing = detail.reviews.filter((review) => !review.undone).at(-1)
  return (
    <div className="standing" role="status" tabIndex={-1} aria-label="Standing decision">
      {standing === undefined ? (
        <span>No decision yet.</span>
      ) : (
        <>
          <strong className={standing.decision === 'keep' ? '' : 'warn-text'}>{REVIEW_WORDS[standing.decision]}</strong>
          <span>
            {' '}
            “{standing.reason}”, {standing.reviewer}, {dayAndTime(standing.at)}
          </span>
        </>
      )}
      {detail.supersededBy === null ? null : (
        <div className="warn-text">Capture {detail.supersededBy} was taken later and counts in its place.</div>
      )}
    </div>
  )
}

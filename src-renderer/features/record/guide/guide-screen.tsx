import './guide.css'
import { useEffect, useState } from 'react'
import {
  SEQUENCES,
  type GuidedAnswer,
  type GuidedAnswerKind,
  type GuidedPhase,
  type GuidedProgress,
} from '#shared/domain/guided.ts'
import { duration, withUncertainty } from '#shared/domain/quantity-text.ts'
import { useCommand } from '../../../client/use-command.ts'
import { Action } from '../../../ui/controls.tsx'
import { TextInput } from '../../../ui/fields.tsx'
import { parseNumber } from '../../../ui/parse-number.ts'
import { useHeldFocus } from '../../../ui/use-held-focus.ts'
import { PlaceMap } from './place-map.tsx'

type Plain = Exclude<GuidedAnswerKind, 'typed'>

const HEADS: Readonly<Record<GuidedPhase, string>> = {
  moving: '',
  settling: 'The picture settles. Keep still.',
  'may-read': 'The instrument may read now',
  reading: 'Reading. Keep still.',
  judging: 'Keep this reading?',
  failed: 'It could not be read',
}
const NAMES: Readonly<Record<string, string>> = {
  luminance: 'Luminance',
  pulse_width: 'Pulse width',
  phase: 'Pulse after the frame’s start',
  duty: 'Duty cycle',
  crosstalk: 'Crosstalk, brightening',
  crosstalk_fall: 'Crosstalk, darkening',
  percent_flicker: 'Percent flicker',
  flicker_index: 'Flicker index',
  frequency: 'Frequency',
}
const isKnown = (u: number | null): u is number => u !== null && u !== 0
const nameOf = (quantity: string): string => NAMES[quantity] ?? quantity

function wordsOf(kind: Plain, phase: GuidedPhase): string {
  if (kind === 'next') return phase === 'failed' ? 'Read again' : phase === 'may-read' ? 'It has read' : 'Done, read it'
  return { accept: 'Keep it', again: 'Take again', skip: 'Leave this one out', back: 'Back one step' }[kind]
}

/** What the space bar says: go on. */
const forward = (answers: readonly GuidedAnswerKind[]): Plain | null =>
  (['accept', 'next'] as const).find((kind) => answers.includes(kind)) ?? null

/** A guided sequence at work: fills the screen, can be read from two metres and is driven by three keys. */
export function GuideScreen({ progress }: { progress: GuidedProgress }) {
  const { jobId, phase, answers, index, steps, values, problem, leftS } = progress
  const answer = useCommand('The sequence could not go on', (client, given: GuidedAnswer) =>
    client.guided.answer(given),
  )
  const stop = useCommand('The sequence could not be stopped', (client) => client.jobs.cancel({ jobId }))
  const [sent, setSent] = useState<GuidedProgress | null>(null)
  const own = useHeldFocus<HTMLElement>()
  const give = (given: GuidedAnswer): void => {
    // Once for each question: a key that is pressed twice must not answer the next.
    if (sent === progress) return
    setSent(progress)
    void answer.run(given).then((done) => (done === null ? setSent(null) : undefined))
  }
  useEffect(() => {
    const listen = (event: KeyboardEvent) => {
      const inField = event.target instanceof HTMLInputElement
      if (event.repeat || event.ctrlKey || event.metaKey || event.altKey) return
      const next = forward(answers)
      if (event.key === 'Escape') void stop.run()
      else if (event.code === 'Space' && next !== null && !inField && !(event.target instanceof HTMLButtonElement))
        give({ kind: next })
      else if (event.key === 'Backspace' && answers.includes('back') && !inField) give({ kind: 'back' })
      else return
      event.preventDefault()
    }
    window.addEventListener('keydown', listen)
    return () => window.removeEventListener('keydown', listen)
  })
  const taken = steps.filter(({ state }) => state === 'taken').length
  const keys = forward(answers)
  return (
    <section
      ref={own}
      className="guide"
      role="alertdialog"
      aria-label={`${SEQUENCES[progress.sequence]}: what to do now`}
    >
      <p className="guide-head">
        {SEQUENCES[progress.sequence]} · step {index + 1} of {steps.length}, {taken} taken
        {leftS === null ? '' : ` · about ${duration(leftS)} left`}
      </p>
      <progress className="guide-bar" value={taken} max={steps.length} aria-label={SEQUENCES[progress.sequence]} />
      <div className="guide-now">
        <div className="guide-words">
          <p className="guide-instruction" role="status">
            {phase === 'moving' ? progress.instruction : HEADS[phase]}
          </p>
          <p className="guide-detail">{phase === 'moving' ? progress.detail : (steps[index]?.place ?? '')}</p>
          {problem === '' ? null : <p className="guide-problem">{problem}</p>}
          {values.length === 0 ? null : (
            <dl className="guide-values">
              {values.map(({ quantity, value, unit, u }) => (
                <div key={quantity} style={{ display: 'contents' }}>
                  <dt>{nameOf(quantity)}</dt>
                  <dd>
                    {!isKnown(u)
                      ? `${Number(value.toPrecision(4))}${unit === '1' ? '' : ` ${unit}`}`
                      : withUncertainty(value, 2 * u, unit)}
                  </dd>
                </div>
              ))}
            </dl>
          )}
          {values.some(({ u }) => isKnown(u)) ? (
            <p className="guide-note">± is U95, the expanded uncertainty at 95 %.</p>
          ) : null}
          {progress.note === '' ? null : <p className="guide-note">{progress.note}</p>}
          {answers.includes('typed') ? (
            <TypedValues
              key={`${index} ${phase}`}
              progress={progress}
              onTyped={(typed) => give({ kind: 'typed', values: typed })}
            />
          ) : null}
        </div>
        <PlaceMap progress={progress} />
      </div>
      {keys === null && !answers.includes('back') ? null : (
        <p className="guide-then">
          {keys === null ? null : (
            <>
              <kbd>Space</kbd> {wordsOf(keys, phase).toLowerCase()}
            </>
          )}
          {answers.includes('back') ? (
            <>
              {keys === null ? '' : ' · '}
              <kbd>Backspace</kbd> back one step
            </>
          ) : null}
          {' · '}
          <kbd>Esc</kbd> stop, what was taken is kept
        </p>
      )}
      <div className="guide-actions">
        {answers.map((kind) =>
          kind === 'typed' ? null : (
            <Action
              key={kind}
              size="large"
              tone={kind === keys ? 'main' : 'plain'}
              autoFocus={kind === keys}
              isDisabled={sent === progress}
              onPress={() => give({ kind })}
            >
              {wordsOf(kind, phase)}
            </Action>
          ),
        )}
        <Action size="large" tone="quiet" isPending={stop.busy} onPress={() => void stop.run()}>
          Stop here
        </Action>
      </div>
    </section>
  )
}

function TypedValues({ progress, onTyped }: { progress: GuidedProgress; onTyped: (values: number[]) => void }) {
  const { fields } = progress
  const [texts, setTexts] = useState<readonly string[]>(fields.map(() => ''))
  const values = texts.map(parseNumber)
  const ready = values.every((value): value is number => value !== null && value >= 0)
  return (
    <form
      className="guide-typed"
      onSubmit={(event) => {
        event.preventDefault()
        if (ready) onTyped(values)
      }}
    >
      {fields.map(({ quantity, unit }, i) => (
        <TextInput
          key={quantity}
          label={nameOf(quantity)}
          unit={unit}
          inputMode="decimal"
          value={texts[i] ?? ''}
          onChange={(text) => setTexts(texts.map((old, k) => (k === i ? text : old)))}
        />
      ))}
      <Action size="large" tone="main" type="submit" isDisabled={!ready}>
        Keep what the instrument shows
      </Action>
    </form>
  )
}

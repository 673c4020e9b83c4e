import { useEffect } from 'react'
import type { RunAnswer, RunQuestion } from '#shared/domain/run.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { Action } from '../../ui/controls.tsx'

/** Once the display was looked at, `again` has it looked at once more. */
const wordsOf = (answer: RunAnswer, { reason }: RunQuestion): string =>
  ({
    again: reason === '' ? 'Done' : 'Done, check again',
    accept: 'Go on as it is',
    skip: 'Leave this one out',
  })[answer]

/** Fills the window and can be read from two metres; the space bar says that it is done. */
export function Instruction(props: {
  readonly question: RunQuestion
  readonly position: string
  readonly onAnswer: (answer: RunAnswer) => void
  readonly onPause: () => void
}) {
  const { question, onAnswer } = props
  useEffect(() => {
    const listen = (event: KeyboardEvent) => {
      if (event.code !== 'Space' || event.repeat || event.target instanceof HTMLButtonElement) return
      event.preventDefault()
      onAnswer('again')
    }
    window.addEventListener('keydown', listen)
    return () => window.removeEventListener('keydown', listen)
  }, [onAnswer])
  const { setting, refreshHz } = question.visit
  return (
    <section className="instruction" role="alertdialog" aria-label="What to do now">
      <p className="instruction-place">{props.position}</p>
      <p className="instruction-text">{question.instruction}</p>
      {question.reason === '' ? null : <p className="instruction-reason">{question.reason}</p>}
      <p className="instruction-then">
        then press <kbd>Space</kbd> to measure {setting} at {hertz(refreshHz)} Hz
      </p>
      <div className="instruction-actions">
        {question.answers.map((answer) => (
          <Action
            key={answer}
            size="large"
            tone={answer === 'again' ? 'main' : 'plain'}
            autoFocus={answer === 'again'}
            onPress={() => onAnswer(answer)}
          >
            {wordsOf(answer, question)}
          </Action>
        ))}
        <Action size="large" tone="quiet" onPress={props.onPause}>
          Pause the run
        </Action>
      </div>
    </section>
  )
}

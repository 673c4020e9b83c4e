import { Action } from '../../ui/controls.tsx'
import { dayAndTime, hertz, pair } from '../../ui/format.ts'
import { SHORTCUTS } from '../../ui/shortcuts.ts'
import { VERDICT_WORDS } from '../../ui/words.ts'
import { UndoButtons } from './undo-buttons.tsx'
import type { ShownCapture } from './use-shown-capture.ts'

export interface CaptureHeadProps {
  readonly shown: ShownCapture | null
  readonly onNext: () => void
  readonly onPrevious: () => void
}

/** Which capture is shown, and the way to the next doubt. */
export function CaptureHead({ shown, onNext, onPrevious }: CaptureHeadProps) {
  const info = shown?.detail.info ?? null
  const plan = shown?.sweep?.plan ?? null
  return (
    <header className="capture-head">
      <div className="capture-title">
        <h2>{info === null ? 'Traces' : `Capture ${info.id}`}</h2>
        {info === null ? null : (
          <>
            <span className="pane-pair">{pair(info.from, info.to)}</span>
            <span className="minor capture-origin" title={`Taken ${dayAndTime(info.takenAt)} from ${info.source}`}>
              repeat {info.repeat}
              {info.attempt > 1 ? `, attempt ${info.attempt}` : ''}, {VERDICT_WORDS[info.verdict]}; sweep {info.sweepId}
              {plan === null ? '' : `: ${plan.setting}, ${hertz(plan.refreshHz)} Hz`}
            </span>
          </>
        )}
      </div>
      <div className="capture-ways">
        <Action
          size="small"
          onPress={onPrevious}
          aria-label="Previous doubtful"
          aria-keyshortcuts={SHORTCUTS.previousDoubt.key}
        >
          ◂ Previous<span className="roomy"> doubtful</span>
        </Action>
        <Action size="small" onPress={onNext} aria-label="Next doubtful" aria-keyshortcuts={SHORTCUTS.nextDoubt.key}>
          Next<span className="roomy"> doubtful</span> ▸
        </Action>
        <UndoButtons />
      </div>
    </header>
  )
}

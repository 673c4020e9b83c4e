import type { FrameLog } from '#shared/domain/capture.ts'
import { ToggleButton } from 'react-aria-components'
import { Action } from '../../ui/controls.tsx'
import { count, dayAndTime, pair } from '../../ui/format.ts'
import { SHORTCUTS } from '../../ui/shortcuts.ts'
import { VERDICT_WORDS } from '../../ui/words.ts'
import { UndoButtons } from './undo-buttons.tsx'
import type { Queue } from './use-queue.ts'
import type { ShownCapture } from './use-shown-capture.ts'

export interface CaptureHeadProps {
  readonly shown: ShownCapture | null
  readonly queue: Queue
  readonly onCapture: (captureId: number) => void
  /** Capture laid over all others; null when none is. */
  readonly pinned: number | null
  readonly onPin: () => void
}

/** Which capture is shown, the queue of doubtful ones, and the way back. */
export function CaptureHead({ shown, queue, onCapture, pinned, onPin }: CaptureHeadProps) {
  const info = shown?.detail.info ?? null
  return (
    <header className="pane capture-head">
      <div
        className="capture-title"
        {...(info === null
          ? {}
          : { title: `Taken ${dayAndTime(info.takenAt)} from ${info.source}${frameWords(info.frameLog)}` })}
      >
        <h2>{info === null ? 'Traces' : `Capture ${info.id}`}</h2>
        {info === null ? null : (
          <>
            <span className="pane-pair">{pair(info.from, info.to)}</span>
            {info.verdict === 'good' ? null : <span className="warn-text">{VERDICT_WORDS[info.verdict]}</span>}
          </>
        )}
      </div>
      <ToggleButton
        className="button button-small tool"
        isSelected={pinned !== null}
        isDisabled={info === null && pinned === null}
        onChange={onPin}
        aria-keyshortcuts={SHORTCUTS.pin.key}
        aria-label={pinned === null ? 'Pin this capture to overlay it on the others' : `Unpin capture ${pinned}`}
      >
        {pinned === null ? 'Pin' : `Pinned ${pinned}`}
      </ToggleButton>
      <div className="capture-ways" role="group" aria-label="Doubtful captures of the list">
        <Action
          size="small"
          onPress={() => queue.go('previous')}
          isDisabled={queue.total === 0}
          aria-label="Previous doubtful capture"
          aria-keyshortcuts={SHORTCUTS.previousDoubt.key}
        >
          ◂
        </Action>
        <output className="queue-count" aria-label="Doubtful captures">
          {queueWords(queue)}
        </output>
        <Action
          size="small"
          onPress={() => queue.go('next')}
          isDisabled={queue.total === 0}
          aria-label="Next doubtful capture"
          aria-keyshortcuts={SHORTCUTS.nextDoubt.key}
        >
          ▸
        </Action>
      </div>
      <UndoButtons onCapture={onCapture} />
    </header>
  )
}

function queueWords({ index, total }: Queue): string {
  if (total === null) return '…'
  if (total === 0) return 'none doubtful'
  return index === null ? `${count(total)} doubtful` : `${count(index + 1)} of ${count(total)} doubtful`
}

/** What the display under test said of the frame in which it changed level. */
function frameWords(log: FrameLog | null): string {
  if (log === null || log.frameMs === null) return ''
  return `; display frames of ${log.frameMs.toFixed(2)} ms, ${log.dropped ? 'one dropped at the change' : 'none dropped'}`
}

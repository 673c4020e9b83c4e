import { memo, useState } from 'react'
import { CHAPTER_WORDS, REPORT_CHAPTERS, type ReportChapter } from '#shared/domain/report-chapters.ts'
import type { Limits } from '#shared/findings/campaign/figures.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import { useHostState } from '../../client/host.tsx'
import { useExports } from '../../client/use-exports.ts'
import { JobBar } from '../../parts/job-progress.tsx'
import { Action } from '../../ui/controls.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { useStable } from '../../ui/use-stable.ts'

type Published =
  | { readonly what: 'report'; readonly form: 'html' | 'pdf'; readonly chapters: ReportChapter[] }
  | { readonly what: 'bundle' }

/** Report and evidence of what is on the screen, under the limits in sight. */
export function ReportActions(props: {
  readonly campaignId: number
  readonly limits: Limits
  readonly weighting: Weighting
  readonly isDisabled: boolean
}) {
  const { isDisabled, ...judged } = props
  const { save, busy } = useExports()
  const publish = useStable((what: Published) => save({ ...what, ...judged }))
  return <Publish onPublish={publish} busy={busy} isDisabled={isDisabled} />
}

/** Not drawn again while a limit is dragged. */
const Publish = memo(function Publish(props: {
  readonly onPublish: (what: Published) => void
  readonly busy: boolean
  readonly isDisabled: boolean
}) {
  const { onPublish, busy, isDisabled } = props
  const [leftOut, setLeftOut] = useState<readonly ReportChapter[]>([])
  const chapters = REPORT_CHAPTERS.filter((chapter) => !leftOut.includes(chapter))
  const made = useHostState((state) => state.jobs).filter(({ kind, state }) => kind === 'export' && state === 'running')
  return (
    <section className="report-actions" aria-label="Publish">
      <h2>Publish</h2>
      {(['html', 'pdf'] as const).map((form) => (
        <Action
          key={form}
          isDisabled={isDisabled}
          isPending={busy}
          onPress={() => onPublish({ what: 'report', form, chapters })}
        >
          Report, {form.toUpperCase()}
        </Action>
      ))}
      <Action isDisabled={isDisabled} isPending={busy} onPress={() => onPublish({ what: 'bundle' })}>
        Evidence bundle
      </Action>
      <details className="report-contents">
        <summary>Contents of the report</summary>
        {REPORT_CHAPTERS.map((chapter) => (
          <SwitchInput
            key={chapter}
            label={CHAPTER_WORDS[chapter]}
            isSelected={!leftOut.includes(chapter)}
            onChange={(on) => setLeftOut(on ? leftOut.filter((one) => one !== chapter) : [...leftOut, chapter])}
          />
        ))}
      </details>
      {made.map((job) => (
        <JobBar key={job.id} job={job} />
      ))}
      <p className="hint">
        The bundle holds raw traces, results and recipe. Anyone can check it: <code>slewlight verify bundle.zip</code>
      </p>
    </section>
  )
})

import { useCallback, useEffect, useMemo, useState } from 'react'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import { useClient, useHost, useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { readStored, writeStored } from '../../ui/storage.ts'
import { ChosenPane } from './chosen-pane.tsx'
import { type ImportEnd, useDesk, useDeskSnapshot } from './desk.ts'
import { blockersOf, createRowKeeper, readerOf, rowsOf, startOf, type ImportStart } from './desk-model.ts'
import { ImportedSweeps } from './imported-sweeps.tsx'
import { ImportOutcome, ImportProgress } from './import-outcome.tsx'
import { RecordingsPane } from './recordings-pane.tsx'
import { SweepStrip } from './sweep-strip.tsx'
import './import.css'

/** The campaign in use, shared with the Bench. */
const CAMPAIGN_KEY = 'campaign'

export function ImportScreen() {
  const desk = useDesk()
  const { history, readings, selected, draft, job } = useDeskSnapshot()
  const client = useClient()
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const jobs = useHostState((state) => state.jobs)
  const campaigns = useCampaigns()
  const [chosenCampaign, setChosenCampaign] = useState<number | null>(() => {
    const stored = readStored(CAMPAIGN_KEY)
    return typeof stored === 'number' ? stored : null
  })
  const [tab, setTab] = useState('recording')
  const campaignId = campaigns.data?.find(({ id }) => id === chosenCampaign)?.id ?? campaigns.data?.at(-1)?.id ?? null

  useEffect(() => desk.use(client), [desk, client])
  useUndoKeys(desk.undo, desk.redo)

  const { rule, entries } = history.present
  const reader = useMemo(() => readerOf(rule), [rule])
  const [keepRows] = useState(createRowKeeper)
  const rows = useMemo(() => keepRows(rowsOf(entries, readings, reader.read)), [keepRows, entries, readings, reader])
  const blockers = useMemo(() => {
    const found = blockersOf(rows, draft, campaignId)
    return heard ? found : ['Wait for the host.', ...found]
  }, [rows, draft, campaignId, heard])

  // An import started from an earlier page is followed too.
  const jobId = job?.id ?? jobs.findLast(({ kind, state }) => kind === 'import' && state === 'running')?.id ?? null
  const progress = jobs.find(({ id }) => id === jobId) ?? null
  const running = progress !== null && progress.state === 'running'
  const report = useHostQuery(
    ['job-outcome', jobId, progress?.state],
    async (asked, signal): Promise<ImportEnd | null> => {
      const { kind, result, ...end } = await asked.jobs.outcome({ jobId: jobId ?? '' }, { signal })
      return kind === 'import' ? { ...result, ...end, jobId: jobId ?? '' } : null
    },
    { enabled: jobId !== null && progress !== null && !running },
  )
  const outcome = jobId === null || running ? null : (report.data ?? null)
  useEffect(() => {
    if (outcome !== null) desk.settle(outcome)
  }, [desk, outcome])

  const sweeps = useHostQuery(['sweeps', 'all', 'with hidden'], (asked, signal) =>
    asked.sweeps.list({ includeHidden: true }, { signal }),
  )
  const start = useCommand('The import could not start', async (asked, request: ImportStart) => {
    const { keys, ...input } = request
    const { jobId: id } = await asked.files.importStart(input)
    desk.setJob({ id, keys })
  })
  const hide = useCommand('The sweep could not be changed', (asked, sweepId: number, hidden: boolean) =>
    asked.sweeps.hide({ sweepId, hidden }),
  )
  const onHide = useCallback((sweepId: number, hidden: boolean) => void hide.run(sweepId, hidden), [hide])

  return (
    <div className="import">
      <SweepStrip
        rows={rows}
        draft={draft}
        campaigns={campaigns.data ?? []}
        campaignId={campaignId}
        onCampaign={(id) => {
          setChosenCampaign(id)
          writeStored(CAMPAIGN_KEY, id)
        }}
        blockers={running ? ['An import is running.'] : blockers}
        busy={start.busy}
        onImport={() => {
          const request = startOf(rows, draft, campaignId)
          if (request !== null) void start.run(request)
        }}
      />
      {running ? <ImportProgress job={progress} /> : null}
      {outcome === null ? null : (
        <ImportOutcome
          report={outcome}
          sweep={sweeps.data?.find(({ id }) => id === outcome.sweepId) ?? null}
          onHide={onHide}
          busy={hide.busy}
          onClose={() => desk.setJob(null)}
        />
      )}
      <div className="import-panes">
        <RecordingsPane rows={rows} history={history} selected={selected} ruleProblem={reader.problem} />
        <Tabs className="pane tabs import-tabs" selectedKey={tab} onSelectionChange={(key) => setTab(String(key))}>
          <TabList className="tab-list" aria-label="Chosen recording and imported sweeps">
            <Tab id="recording" className="tab">
              Chosen recording
            </Tab>
            <Tab id="sweeps" className="tab">
              Imported sweeps
            </Tab>
          </TabList>
          <TabPanel id="recording" className="tab-panel">
            <ChosenPane rows={rows} selected={selected} />
          </TabPanel>
          <TabPanel id="sweeps" className="tab-panel">
            <ImportedSweeps
              sweeps={sweeps.data ?? []}
              campaigns={campaigns.data ?? []}
              busy={hide.busy}
              onHide={onHide}
            />
          </TabPanel>
        </Tabs>
      </div>
    </div>
  )
}

/** Ctrl+Z and Ctrl+Shift+Z (or Ctrl+Y), except where text has its own. */
function useUndoKeys(undo: () => void, redo: () => void): void {
  useEffect(() => {
    const listen = (event: KeyboardEvent) => {
      const key = event.key.toLowerCase()
      if (!(event.ctrlKey || event.metaKey) || event.altKey || event.defaultPrevented) return
      if (event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement) return
      if (key === 'z' && !event.shiftKey) undo()
      else if (key === 'y' || (key === 'z' && event.shiftKey)) redo()
      else return
      event.preventDefault()
    }
    addEventListener('keydown', listen)
    return () => removeEventListener('keydown', listen)
  }, [undo, redo])
}

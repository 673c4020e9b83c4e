import { useImperativeHandle, useRef, type Ref } from 'react'
import { Button } from 'react-aria-components'
import type { Flag, Result } from '#shared/domain/result.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { count, milliseconds, significant, unbroken } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'
import { AcceptFlag } from './accept-flag.tsx'
import { useAccepted } from './use-accepted.ts'

export interface FlagListHandle {
  focus(): void
}

export interface FlagListProps {
  readonly ref: Ref<FlagListHandle>
  readonly result: Result | null
  readonly sampleRateHz: number
  readonly sweepId: number
  /** Index of the flag whose samples are shown; null when none is. */
  readonly shown: number | null
  readonly onShow: (index: number | null) => void
}

/** Every doubt of the machine with what it compared; pressing one shows the samples it points at. */
export function FlagList({ ref, result, sampleRateHz, sweepId, shown, onShow }: FlagListProps) {
  const accepted = useAccepted().filter((flag) => flag.sweepId === sweepId)
  const acceptedAs = (flag: Flag) => accepted.find(({ flag: id }) => id === flag.id) ?? null
  const list = useRef<HTMLUListElement>(null)
  useImperativeHandle(ref, () => ({ focus: () => list.current?.querySelector('button')?.focus() }), [])
  const flags = result?.flags ?? []
  if (result === null)
    return (
      <EmptyState title="Not measured">There is no result under the recipe in use, so nothing was checked.</EmptyState>
    )
  if (flags.length === 0) return <EmptyState title="No flags">All automatic checks passed.</EmptyState>
  return (
    <ul ref={list} className="flag-list">
      {flags.map((flag, i) => (
        <li key={`${flag.id} ${i}`}>
          <Button className="flag-item" aria-pressed={shown === i} onPress={() => onShow(shown === i ? null : i)}>
            <span className="flag-name" data-accepted={acceptedAs(flag) !== null}>
              <span aria-hidden="true">⚑ </span>
              {FLAG_WORDS[flag.id]}
            </span>
            <span className="flag-numbers">{comparedText(flag)}</span>
            <span className="flag-evidence">{unbroken(flag.evidence)}</span>
            <span className="flag-span">{spanText(flag, sampleRateHz)}</span>
          </Button>
          {flags.findIndex(({ id }) => id === flag.id) === i ? (
            <AcceptFlag sweepId={sweepId} flag={flag.id} accepted={acceptedAs(flag)} />
          ) : null}
        </li>
      ))}
    </ul>
  )
}

function withUnit(value: number, unit: string): string {
  if (unit === 's') return `${milliseconds(value)} ms`
  return `${significant(value, 3)} ${unit === '1' ? '' : unit}`.trim()
}

/** As it is set, without zeros that only look measured. */
function limitText(limit: number, unit: string): string {
  const shown = String(Number((unit === 's' ? limit * 1000 : limit).toPrecision(3)))
  return `${shown} ${unit === 's' ? 'ms' : unit === '1' ? '' : unit}`.trim()
}

/** The number that was compared and what it was compared with. */
function comparedText({ value, limit, unit }: Flag): string {
  if (value === null) return ''
  return limit === null ? withUnit(value, unit) : `${withUnit(value, unit)}, limit ${limitText(limit, unit)}`
}

function spanText({ span }: Flag, sampleRateHz: number): string {
  if (span === null) return 'Whole record'
  const [first, last] = span
  const at = (sample: number) => milliseconds(sample / sampleRateHz)
  return `Samples ${count(first)}–${count(last)}, ${at(first)} to ${at(last)} ms of the record`
}

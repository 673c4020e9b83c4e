import type { ComponentProps } from 'react'
import { Segmented } from '../../ui/controls.tsx'

/** A choice of a form with its label in sight. */
export function SegmentedField<K extends string>(props: ComponentProps<typeof Segmented<K>>) {
  return (
    <div className="segmented-field">
      <span className="field-label" aria-hidden="true">
        {props.label}
      </span>
      <Segmented {...props} />
    </div>
  )
}

import { Checkbox } from 'react-aria-components'

/** A box to be ticked by hand before something that can harm may go on. */
export function Understood(props: { isSelected: boolean; onChange: (on: boolean) => void; children: string }) {
  return (
    <Checkbox className="checkbox" isSelected={props.isSelected} onChange={props.onChange}>
      <span className="checkbox-box" aria-hidden="true" />
      {props.children}
    </Checkbox>
  )
}

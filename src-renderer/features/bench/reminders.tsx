import { Button, Disclosure, DisclosurePanel, Heading } from 'react-aria-components'

const REMINDERS = [
  {
    what: 'Warm up for 20 to 30 minutes',
    why: 'A cold panel is slower and its brightness drifts: the first captures would differ from the last ones for no other reason.',
  },
  {
    what: 'Darken the room, cover sensor and patch',
    why: 'Stray light adds to both levels, and mains lighting adds a hum at twice the mains frequency.',
  },
  {
    what: 'Switch off what adapts',
    why: 'Automatic brightness, dynamic contrast, local dimming and power saving move the levels while they are measured.',
  },
  {
    what: 'Small patch, fixed height on the screen',
    why: 'The picture is drawn from top to bottom; a tall patch adds that time to every transition.',
  },
] as const

export function Reminders() {
  return (
    <Disclosure className="disclosure">
      <Heading level={3} className="disclosure-head">
        <Button slot="trigger" className="disclosure-button">
          <span aria-hidden="true" className="disclosure-arrow" />
          Before a sweep: warm-up and dark room
        </Button>
      </Heading>
      <DisclosurePanel className="disclosure-panel">
        <ul className="reminders">
          {REMINDERS.map(({ what, why }) => (
            <li key={what}>
              <strong>{what}.</strong> {why}
            </li>
          ))}
        </ul>
      </DisclosurePanel>
    </Disclosure>
  )
}

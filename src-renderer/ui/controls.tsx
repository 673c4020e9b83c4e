import type { ReactNode } from 'react'
import {
  Button,
  Dialog,
  Heading,
  Modal,
  ModalOverlay,
  ToggleButton,
  ToggleButtonGroup,
  type ButtonProps,
} from 'react-aria-components'

export interface ActionProps extends Omit<ButtonProps, 'className' | 'isPending'> {
  readonly tone?: 'main' | 'plain' | 'quiet' | 'danger'
  readonly size?: 'normal' | 'large' | 'small'
  /** Under way: keeps the focus, takes no further press. */
  readonly isPending?: boolean
}

export function Action({ tone = 'plain', size = 'normal', isPending = false, onPress, ...props }: ActionProps) {
  return (
    <Button
      {...props}
      {...(onPress === undefined || isPending ? {} : { onPress })}
      className={`button button-${tone} button-${size} ${isPending ? 'button-pending' : ''}`}
    />
  )
}

export function Card(props: {
  readonly title: string
  readonly aside?: ReactNode
  readonly children: ReactNode
  readonly className?: string
}) {
  return (
    <section className={`card ${props.className ?? ''}`} aria-label={props.title}>
      <header className="card-head">
        <h2>{props.title}</h2>
        {props.aside}
      </header>
      {props.children}
    </section>
  )
}

/** One of a few, all of them in sight. */
export function Segmented<K extends string>(props: {
  readonly label: string
  readonly value: K | null
  readonly choices: readonly { readonly id: K; readonly label: string }[]
  readonly onChange: (value: K) => void
}) {
  return (
    <ToggleButtonGroup
      className="segmented"
      aria-label={props.label}
      selectionMode="single"
      selectedKeys={props.value === null ? [] : [props.value]}
      onSelectionChange={(keys) => {
        const choice = props.choices.find(({ id }) => keys.has(id))
        if (choice !== undefined) props.onChange(choice.id)
      }}
    >
      {props.choices.map(({ id, label }) => (
        <ToggleButton key={id} id={id} className="segment">
          {label}
        </ToggleButton>
      ))}
    </ToggleButtonGroup>
  )
}

export function ModalDialog(props: {
  readonly title: string
  readonly isOpen: boolean
  readonly onClose: () => void
  readonly role?: 'dialog' | 'alertdialog'
  readonly children: ReactNode
  /** Close alone, unless there is more to choose from. */
  readonly actions?: ReactNode
}) {
  const close = (
    <Action tone="main" onPress={props.onClose}>
      Close
    </Action>
  )
  return (
    <ModalOverlay
      className="overlay"
      isOpen={props.isOpen}
      isDismissable={props.role !== 'alertdialog'}
      onOpenChange={(open) => {
        if (!open) props.onClose()
      }}
    >
      <Modal className="modal">
        <Dialog className="dialog" role={props.role ?? 'dialog'}>
          <Heading slot="title" className="dialog-title">
            {props.title}
          </Heading>
          <div className="dialog-body">{props.children}</div>
          <footer className="dialog-actions">{props.actions ?? close}</footer>
        </Dialog>
      </Modal>
    </ModalOverlay>
  )
}

export function EmptyState({ title, children }: { title: string; children: ReactNode }) {
  return (
    <div className="empty">
      <strong>{title}</strong>
      <p>{children}</p>
    </div>
  )
}

/** A word with a shape in front, so that its colour is never the only sign. */
export function StatusDot({ tone, children }: { tone: 'good' | 'warn' | 'bad' | 'idle'; children: ReactNode }) {
  const shapes = { good: '●', warn: '▲', bad: '■', idle: '○' }
  return (
    <span className={`status status-${tone}`}>
      <span aria-hidden="true">{shapes[tone]} </span>
      {children}
    </span>
  )
}

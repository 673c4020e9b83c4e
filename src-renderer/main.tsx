import { notifyManager, QueryClientProvider, replaceEqualDeep } from '@tanstack/react-query'
import { StrictMode } from 'react'
import { createRoot } from 'react-dom/client'
import { Shell } from './app/shell.tsx'
import { beforeFrame, beforeFrameGathered } from './client/before-frame.ts'
import { connect, type Client } from './client/connect.ts'
import { HostProvider } from './client/host.tsx'
import { HostStore } from './client/host-store.ts'
import { createQueryClient, createRefresher } from './client/queries.ts'
import { NoticeBoard, NoticeProvider } from './client/notices.tsx'
import { restoreTheme } from './ui/theme.ts'
import './ui/tokens.css'
import './ui/base.css'
import './ui/buttons.css'
import './ui/cards.css'
import './ui/fields.css'
import './ui/choices.css'
import './ui/disclosure.css'
import './ui/tabs.css'
import './ui/sided.css'
import './ui/dialogs.css'
import './ui/matrix.css'
import './ui/figures.css'

restoreTheme()
notifyManager.setScheduler(beforeFrame)
const queries = createQueryClient()
const store = new HostStore<Client>({
  connect,
  schedule: beforeFrameGathered,
  share: (previous, next) => replaceEqualDeep(previous, next),
  onEvent: createRefresher(queries),
  // Events of the break are lost, so every list is asked anew.
  onOpen: () => void queries.invalidateQueries(),
})
store.start()

const root = document.getElementById('root')
if (root === null) throw new Error('The page has no root element.')
createRoot(root).render(
  <StrictMode>
    <QueryClientProvider client={queries}>
      <HostProvider store={store}>
        <NoticeProvider board={new NoticeBoard()}>
          <Shell />
        </NoticeProvider>
      </HostProvider>
    </QueryClientProvider>
  </StrictMode>,
)

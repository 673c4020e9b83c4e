import { Menu, type MenuItemConstructorOptions } from 'electron'

/** A small menu of standard commands, all reachable by keyboard. */
export function setMenu(options: { development: boolean; showFolder: () => void }): void {
  const mac = process.platform === 'darwin'
  const view: MenuItemConstructorOptions[] = [
    { role: 'resetZoom' },
    { role: 'zoomIn' },
    { role: 'zoomOut' },
    { type: 'separator' },
    { role: 'togglefullscreen' },
  ]
  if (options.development) view.unshift({ role: 'reload' }, { role: 'toggleDevTools' }, { type: 'separator' })
  const template: MenuItemConstructorOptions[] = [
    ...(mac ? [{ role: 'appMenu' } satisfies MenuItemConstructorOptions] : []),
    {
      label: '&File',
      submenu: [
        { label: 'Show &archive and log files', click: options.showFolder },
        { type: 'separator' },
        mac ? { role: 'close' } : { role: 'quit' },
      ],
    },
    { role: 'editMenu' },
    { label: '&View', submenu: view },
    { role: 'windowMenu' },
  ]
  Menu.setApplicationMenu(Menu.buildFromTemplate(template))
}

/**
 * The desktop application with its message boxes answered: `SLEWLIGHT_ANSWERS` holds the buttons to press, a line each,
 * and what was asked is written to the file `SLEWLIGHT_ASKED`, a line of JSON each. A box without its button ends the
 * program with 70.
 */
const { appendFileSync } = require('node:fs')
const path = require('node:path')
const { app, dialog } = require('electron')

const answers = (process.env.SLEWLIGHT_ANSWERS ?? '').split('\n')
dialog.showMessageBox = async (...given) => {
  const { message, detail = '', buttons = [] } = given.at(-1)
  appendFileSync(process.env.SLEWLIGHT_ASKED, `${JSON.stringify({ message, detail, buttons })}\n`)
  const response = buttons.indexOf(answers.shift())
  if (response < 0) app.exit(70)
  return { response, checkboxChecked: false }
}

require(path.join(__dirname, '../out/main/electron.js'))

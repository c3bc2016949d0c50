// Looks at HTML as a stranger would, and prints what is wrong with it as one JSON array: for each file
// the rules that it breaks, and where. Empty lists for clean files.
//
//     check_html.mjs FILE...
//
// The rules are the recommended ones of html-validate, which shares no code with the program under test.
// It knows nothing of what a page or mail should say.
import process from 'node:process'
import { required } from './required.mjs'

const { FileSystemConfigLoader, HtmlValidate } = required('html-validate')

// Every rule that is off has a reason.
const CONFIG = {
  root: true,
  extends: ['html-validate:recommended'],
  rules: {
    // Many mailboxes drop style sheets and keep styles that stand on an element.
    'no-inline-style': 'off',
    // What is short enough for a search engine is no concern of a mail, whose title is its subject.
    'long-title': 'off',
    // A list without bullets is no list to some screen readers, unless its role says so.
    'no-redundant-role': 'off'
  }
}

const files = process.argv.slice(2)
if (files.length === 0 || files[0].startsWith('-')) {
  console.error('check_html.mjs FILE...')
  process.exit(2)
}
const validator = new HtmlValidate(new FileSystemConfigLoader(CONFIG))
const found = []
for (const file of files) {
  const report = await validator.validateFile(file)
  const problems = report.results.flatMap(result => result.messages).map(message => ({
    rule: message.ruleId,
    line: message.line,
    column: message.column,
    message: message.message
  }))
  found.push({ file, problems })
}
console.log(JSON.stringify(found, null, 2))

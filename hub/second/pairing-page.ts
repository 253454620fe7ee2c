// The page that a device sees before it is let in: an address, a field for the code, and no script.

export const PAIRING_STYLE_PATH = '/pair.css'

export function pairingPage({ problem, name, paired }: { readonly problem: string | null; readonly name: string; readonly paired: boolean }): string {
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark">
<link rel="icon" href="data:,"><title>Guardband: let this device in</title><link rel="stylesheet" href="${PAIRING_STYLE_PATH}"></head>
<body><main>
<h1>Let this device in</h1>
${problem === null ? '' : `<p class="problem" role="alert">${escapeHtml(problem)}</p>`}
<form method="post" action="/pair">
<label for="code">Code that the hub shows</label>
<input id="code" name="code" required maxlength="20" autocomplete="off" autocapitalize="characters" autocorrect="off" spellcheck="false" enterkeyhint="next" placeholder="XXXX-XXXX">
<label for="name">What this device is called</label>
<input id="name" name="name" required maxlength="60" autocomplete="off" value="${escapeHtml(name)}">
<button>Let in</button>
</form>
<h2>Is it the right hub?</h2>
<p>Before you type the code, open this page's certificate in the browser (the sign beside the address) and compare its SHA-256 fingerprint with the one that the hub shows. Where they differ, somebody stands between; close this page.</p>
${paired ? '<p><a href="/bench">Let in before? Go to the bench</a></p>' : ''}
</main></body></html>
`
}

export const PAIRING_STYLE = `:root { color-scheme: light; --ground: #f5f4f0; --sheet: #fbfaf7; --ink: #1b1f1d; --soft: #59615d; --line: #8b918d; --accent: #17695d; --down: #ab520e; }
@media (prefers-color-scheme: dark) { :root { color-scheme: dark; --ground: #131615; --sheet: #191d1b; --ink: #e9e7e0; --soft: #a5aca7; --line: #7c837f; --accent: #62c3b1; --down: #eda566; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--ground); color: var(--ink); font: 18px/1.5 system-ui, sans-serif; -webkit-text-size-adjust: 100%; text-size-adjust: 100%; overflow-wrap: break-word; }
main { max-width: 30em; margin: 0 auto; padding: 20px; }
h1 { font-size: 26px; line-height: 1.25; margin: 8px 0 20px; }
h2 { font-size: 19px; margin: 32px 0 4px; }
p { margin: 0 0 12px; }
form { display: grid; gap: 8px; }
label { font-size: 17px; margin-top: 8px; }
input { font: inherit; color: inherit; width: 100%; min-height: 60px; padding: 8px 14px; border: 1px solid var(--line); border-radius: 4px; background: var(--sheet); }
#code { font-family: ui-monospace, monospace; font-size: 26px; letter-spacing: 0.1em; text-transform: uppercase; }
input::placeholder { color: var(--soft); opacity: 1; }
button { font: inherit; font-weight: 600; min-height: 64px; margin-top: 16px; border: 1px solid var(--accent); border-radius: 4px; background: var(--accent); color: var(--ground); }
:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
a { color: var(--accent); display: inline-block; padding: 16px 0; }
.problem { border-left: 4px solid var(--down); padding: 8px 14px; background: var(--sheet); }
`

function escapeHtml(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;')
}

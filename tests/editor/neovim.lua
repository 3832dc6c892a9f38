-- Drives the server with Neovim's own client, in any version from 0.7 on. PROGRAM and FOLDER come from the
-- environment; the folder is a copy that may be written to.

local program, folder = assert(vim.env.PROGRAM), assert(vim.env.FOLDER)
local failures = 0

local function check(what, good)
  print((good and "ok   " or "FAIL ") .. what)
  if not good then failures = failures + 1 end
end

local function eventually(what, test)
  check(what, vim.wait(60000, test, 20))
end

local function run()
  vim.cmd("edit " .. folder .. "/faulty/reading-room-line-stage-c.kdl")
  local buffer = vim.api.nvim_get_current_buf()
  local id
  if vim.lsp.start then
    id = vim.lsp.start({ name = "coldcheck", cmd = { program, "editor" }, root_dir = folder })
  else
    id = vim.lsp.start_client({ name = "coldcheck", cmd = { program, "editor" }, root_dir = folder })
    vim.lsp.buf_attach_client(buffer, id)
  end
  local client = vim.lsp.get_client_by_id(id)
  local methods = vim.fn.has("nvim-0.11") == 1
  local function call(name, ...)
    if methods then return client[name](client, ...) end
    return client[name](...)
  end

  local function codes()
    local found = {}
    for _, one in ipairs(vim.diagnostic.get(buffer)) do
      local code = one.code or (one.user_data and one.user_data.lsp and one.user_data.lsp.code)
      found[code or "complaint"] = (found[code or "complaint"] or 0) + 1
    end
    return found
  end

  local function ask(method, parameters)
    local answer, reason = call("request_sync", "textDocument/" .. method, parameters, 60000, buffer)
    if not answer or answer.err then
      print("     " .. method .. ": " .. vim.inspect(answer and answer.err or reason))
      return nil
    end
    return answer.result
  end

  local function at(line, words)
    local text = vim.api.nvim_buf_get_lines(buffer, line - 1, line, false)[1]
    local column = assert(text:find(words, 1, true)) - 1
    return { textDocument = vim.lsp.util.make_text_document_params(buffer), position = { line = line - 1, character = column } }
  end

  local function line_of(words)
    for number, text in ipairs(vim.api.nvim_buf_get_lines(buffer, 0, -1, false)) do
      if text:find(words, 1, true) then return number end
    end
    error("no " .. words)
  end

  local function replace(words, new)
    local number = line_of(words)
    local text = vim.api.nvim_buf_get_lines(buffer, number - 1, number, false)[1]
    local from, to = text:find(words, 1, true)
    vim.api.nvim_buf_set_lines(buffer, number - 1, number, false, { text:sub(1, from - 1) .. new .. text:sub(to + 1) })
  end

  eventually("diagnostics of a faulty design are shown", function()
    local found = codes()
    return found["capacitor/working-voltage"] and found["mains/fuse"] and found["grid/leak-present"] == 2
  end)
  replace('voltage="350V"', 'voltage="450V"')
  eventually("the value is edited and its findings clear", function()
    local found = codes()
    return not found["capacitor/working-voltage"] and not found["capacitor/surge"] and found["mains/fuse"]
  end)

  local document = vim.lsp.util.make_text_document_params(buffer)
  local range = { start = { line = 0, character = 0 }, ["end"] = { line = 99, character = 0 } }
  local hints = ask("inlayHint", { textDocument = document, range = range }) or {}
  local labels = {}
  for _, hint in ipairs(hints) do labels[#labels + 1] = hint.label end
  local all = table.concat(labels, "|")
  check("hints: voltages, heat, discharge", all:find("331 V", 1, true) and all:find("of 500 mW", 1, true) and all:find("50 V", 1, true))

  local hover = ask("hover", at(line_of("capacitor C11"), "C11"))
  check("hover: the facts of a part", hover and hover.contents.value:find("peak-voltage", 1, true) and hover.contents.value:find("switch-on", 1, true))

  local completion = ask("completion", at(line_of("fuse F1 "), "voltage=")) or { items = {} }
  local names = {}
  for _, item in ipairs(completion.items or completion) do names[item.label] = true end
  check("completion: the properties of a fuse that are not given yet", names["note"] and not names["from"])

  local line = line_of("resistor R3") - 1
  local actions = ask("codeAction", {
    textDocument = document,
    range = { start = { line = line, character = 0 }, ["end"] = { line = line, character = 1 } },
    context = { diagnostics = {} },
  }) or {}
  local applied = false
  for _, action in ipairs(actions) do
    if action.title == "change `0.5W` to `2W`" then
      vim.lsp.util.apply_workspace_edit(action.edit, client.offset_encoding or "utf-16")
      applied = true
    end
  end
  check("action: a higher rating is offered and applied", applied and line_of('power="2W"') == line + 1)
  eventually("its finding clears", function() return not codes()["resistor/dissipation"] end)

  local rename = at(line_of("choke L1"), "bplus")
  rename.newName = "b-plus"
  local edit = ask("rename", rename)
  if edit then vim.lsp.util.apply_workspace_edit(edit, client.offset_encoding or "utf-16") end
  local text = table.concat(vim.api.nvim_buf_get_lines(buffer, 0, -1, false), "\n")
  check("rename: a net everywhere", text:find("supply=b-plus", 1, true) and not text:find("bplus", 1, true))

  replace("choke L1 ", "choke    L1 ")
  local edits = ask("formatting", { textDocument = document, options = { tabSize = 4, insertSpaces = true } }) or {}
  vim.lsp.util.apply_text_edits(edits, buffer, client.offset_encoding or "utf-16")
  check("formatting: laid out again", pcall(line_of, "choke L1 "))

  local definition = ask("definition", at(line_of("fit line left"), "V1a")) or {}
  check("definition: the tube of a section", definition[1] and definition[1].range.start.line == line_of("tube V1 ") - 1)

  replace("mains ", 'resistor "')
  eventually("a broken line is told of and silences nothing else", function()
    local found = codes()
    return found["complaint"] and found["mains/fuse"]
  end)
  call("stop")
  check("the server leaves when it is told to", vim.wait(10000, function() return call("is_stopped") end, 20))
end

local good, reason = pcall(run)
if not good then
  print("FAIL " .. tostring(reason))
  failures = failures + 1
end
print(failures == 0 and "\nneovim: all is well" or ("\nneovim: " .. failures .. " failed"))
vim.cmd(failures == 0 and "qall!" or "cquit!")

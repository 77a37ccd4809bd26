-- Mixed requests: new records, and questions about the book. Each acknowledged write is noted with its id.
local threads = 0

function setup(thread)
    thread:set("number", threads)
    threads = threads + 1
end

function init(args)
    token = args[2]
    count = 0
    acknowledged = io.open(args[1] .. "/acknowledged." .. number, "w")
    wrong = io.open(args[1] .. "/wrong." .. number, "w")
end

local questions = {
    "/v1/changes?take=20",
    "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex/revisions",
    "/v1/standards/threads?designation=M8",
    "/v1/fasteners?thread=M8&take=5",
}

function request()
    count = count + 1
    if count % 2 == 0 then
        return wrk.format("GET", questions[(count / 2) % #questions + 1])
    end
    local path = "/v1/fasteners/load.run.t" .. number .. "-" .. count
    local headers = {
        ["Authorization"] = "Bearer " .. token,
        ["Content-Type"] = "application/json",
        ["If-None-Match"] = "*",
    }
    return wrk.format("PUT", path, headers, '{"joint":"load.run","thread":"M8","stages":["20 N·m"]}')
end

function response(status, headers, body)
    if status == 201 then
        acknowledged:write(body:match('"id":"([^"]+)"'), "\n")
        acknowledged:flush()
    elseif status ~= 200 and status ~= 503 then
        wrong:write(status, " ", body, "\n")
        wrong:flush()
    end
end

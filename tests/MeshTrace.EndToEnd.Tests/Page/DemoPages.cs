using System.Text.Json.Nodes;
using MeshTrace.Commands;
using MeshTrace.EndToEnd.Tests.Runs;

namespace MeshTrace.EndToEnd.Tests.Page;

/// <summary>The pages of both demos and one browser, made once for all tests of the class.</summary>
public sealed class DemoPages : IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private readonly Lazy<Chromium> _browser = new(() => new Chromium());
    private readonly Dictionary<string, string> _pages = [];

    internal Chromium Browser => _browser.Value;

    /// <summary>The page of a demo, written by the built program.</summary>
    public string Of(string demo)
    {
        if (_pages.TryGetValue(demo, out string? page))
            return page;
        page = _folder.File(demo + ".html");
        Program.Run("report", Repository.Demo(demo + ".pcapng"), "--network", Repository.Demo(demo + ".network.json"), "--to", page).Ended(ExitCode.Fine);
        return _pages[demo] = page;
    }

    /// <summary>What somebody may call a node or a group. The first ones go to those that press.</summary>
    internal static IReadOnlyList<string> HostileNames { get; } =
        ["<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "=cmd|'/c calc'!A0", "</style></svg></table>", "\u202E\u05de\u05e0\u05d5\u05e8\u05ea 3", new string('W', 64), "' onmouseover='alert(1)"];

    /// <summary>The page of the library, with such names in its description.</summary>
    public string WithHostileNames()
    {
        JsonNode description = JsonNode.Parse(File.ReadAllBytes(Repository.Demo("library.network.json")))!;
        int next = 0;
        foreach (string kind in (string[])["nodes", "groups", "netKeys", "appKeys"])
            foreach (JsonNode? named in (JsonArray)description[kind]!)
                named!["name"] = HostileNames[next++ % HostileNames.Count];
        string network = _folder.Write("hostile.json", description.ToJsonString()), page = _folder.File("hostile.html");
        Program.Run("report", Repository.Demo("library.pcapng"), "--network", network, "--to", page).Ended(ExitCode.Fine);
        return page;
    }

    public void Dispose()
    {
        if (_browser.IsValueCreated)
            _browser.Value.Dispose();
        _folder.Dispose();
    }
}

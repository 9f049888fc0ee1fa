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

    public void Dispose()
    {
        if (_browser.IsValueCreated)
            _browser.Value.Dispose();
        _folder.Dispose();
    }
}

using System.Text.Json;
using OpenQA.Selenium;
using OpenQA.Selenium.Chrome;

namespace MeshTrace.EndToEnd.Tests.Page;

/// <summary>A headless Chromium with a fresh profile, that writes down every request and every word on its console.</summary>
internal sealed class Chromium : IDisposable
{
    private const string Browser = "/usr/bin/chromium", DriverFolder = "/usr/bin", DriverName = "chromedriver";
    private static readonly TimeSpan LongestWait = TimeSpan.FromSeconds(120);

    private readonly DirectoryInfo _profile = Directory.CreateTempSubdirectory("meshtrace-browser-");
    private readonly ChromeDriverService _service;
    private readonly ChromeDriver _driver;

    public Chromium()
    {
        _service = ChromeDriverService.CreateDefaultService(DriverFolder, DriverName);
        _service.SuppressInitialDiagnosticInformation = true;
        var options = new ChromeOptions { BinaryLocation = Browser };
        options.AddArguments("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", "--disable-dev-shm-usage", "--hide-scrollbars", $"--user-data-dir={_profile.FullName}");
        options.SetLoggingPreference(LogType.Browser, LogLevel.All);
        options.SetLoggingPreference("performance", LogLevel.All);
        _driver = new ChromeDriver(_service, options, LongestWait);
    }

    public static bool IsInstalled => File.Exists(Browser) && File.Exists(Path.Combine(DriverFolder, DriverName));

    public IWebDriver Page => _driver;

    /// <summary>Opens a file at a width, in light or dark. What was written down before is forgotten.</summary>
    public void Open(string file, int width, bool dark = false, string media = "")
    {
        Size(width, 900);
        Emulate(dark, media);
        _driver.Navigate().GoToUrl("about:blank");
        Console();
        Requests();
        _driver.Navigate().GoToUrl(new Uri(file).AbsoluteUri);
    }

    public void Size(int width, int height) =>
        Do("Emulation.setDeviceMetricsOverride", new() { ["width"] = width, ["height"] = height, ["deviceScaleFactor"] = 1, ["mobile"] = false });

    public void Emulate(bool dark, string media) => Do("Emulation.setEmulatedMedia", new()
    {
        ["media"] = media, ["features"] = new[] { new Dictionary<string, object> { ["name"] = "prefers-color-scheme", ["value"] = dark ? "dark" : "light" } },
    });

    /// <summary>What stood on the console since the page was opened.</summary>
    public List<string> Console() => [.. _driver.Manage().Logs.GetLog(LogType.Browser).Select(entry => $"{entry.Level}: {entry.Message}")];

    /// <summary>Every address that the page asked for since it was opened, its own among them.</summary>
    public List<string> Requests() =>
    [
        .. _driver.Manage().Logs.GetLog("performance").Select(entry => JsonSerializer.Deserialize<JsonElement>(entry.Message).GetProperty("message"))
            .Where(message => message.GetProperty("method").GetString() is "Network.requestWillBeSent" or "Network.webSocketCreated")
            .Select(message => message.GetProperty("params")).Select(asked => asked.TryGetProperty("request", out JsonElement request) ? request.GetProperty("url").GetString()! : asked.GetProperty("url").GetString()!),
    ];

    /// <summary>Runs a script in the page and gives what it returns.</summary>
    public T Ask<T>(string script) => (T)_driver.ExecuteScript(script)!;

    /// <summary>As <see cref="Ask"/>, for a script that returns a promise of a text.</summary>
    public string AskLater(string script)
    {
        _driver.Manage().Timeouts().AsynchronousJavaScript = LongestWait;
        return (string)_driver.ExecuteAsyncScript($"const done = arguments[arguments.length - 1]; ({script})().then(done, fault => done('fault: ' + fault));")!;
    }

    /// <summary>A picture of the whole page, left where the environment asks for one.</summary>
    public void Picture(string name, int width)
    {
        if (Environment.GetEnvironmentVariable("MESHTRACE_PICTURES") is not { Length: > 0 } folder)
            return;
        long height = Ask<long>("return document.documentElement.scrollHeight");
        object? shot = Do("Page.captureScreenshot", new()
        {
            ["captureBeyondViewport"] = true,
            ["clip"] = new Dictionary<string, object> { ["x"] = 0, ["y"] = 0, ["width"] = width, ["height"] = height, ["scale"] = 1 },
        });
        File.WriteAllBytes(Path.Combine(folder, name + ".png"), Convert.FromBase64String((string)((Dictionary<string, object>)shot!)["data"]));
    }

    /// <summary>The page as it is printed on A4.</summary>
    public byte[] Print()
    {
        object? printed = Do("Page.printToPDF", new() { ["preferCSSPageSize"] = true, ["printBackground"] = false });
        return Convert.FromBase64String((string)((Dictionary<string, object>)printed!)["data"]);
    }

    public void Dispose()
    {
        _driver.Dispose();
        _service.Dispose();
        try
        {
            _profile.Delete(recursive: true);
        }
        catch (IOException)
        {
            // The browser's last helper may still write there; a profile left among temporary files harms nobody.
        }
    }

    private object? Do(string command, Dictionary<string, object?> parameters) => _driver.ExecuteCdpCommand(command, parameters);
}

using System.Text.Json;
using Deque.AxeCore.Commons;
using MeshTrace.EndToEnd.Tests.Runs;
using OpenQA.Selenium;
using OpenQA.Selenium.Interactions;

namespace MeshTrace.EndToEnd.Tests.Page;

/// <summary>The page as the customer opens it: in a browser, on a phone, in the dark, on paper.</summary>
public sealed class PageInABrowserTests(DemoPages pages) : IClassFixture<DemoPages>
{
    /// <summary>A4 less the margins of the page's own style sheet, in CSS pixels (96 to the inch).</summary>
    private const int PaperWidth = (int)((210 - (2 * 13)) / 25.4 * 96);
    private const string Missing = "chromium and chromedriver are not installed";

    private Chromium Browser => pages.Browser;

    [SkippableFact]
    public void Page_AsksForNothing_AndTheConsoleStaysSilent()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        foreach (string demo in (string[])["library", "boathouse"])
        {
            string page = pages.Of(demo);
            Browser.Open(page, 1280);
            foreach (IWebElement button in Browser.Page.FindElements(By.CssSelector(".tools button")))
                button.Click();
            Assert.Empty(Browser.Console());
            Assert.Equal(new Uri(page).AbsoluteUri, Assert.Single(Browser.Requests(), url => !url.StartsWith("data:,", StringComparison.Ordinal)));
        }
    }

    [SkippableFact]
    public void Policy_KeepsAScriptThatIsNotThePagesOwnFromRunning()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        string page = Path.ChangeExtension(pages.Of("boathouse"), ".changed.html");
        File.WriteAllText(page, File.ReadAllText(pages.Of("boathouse")).Replace("<main>", "<main><script>document.title='taken over'</script><img src=\"http://127.0.0.1:9/a.png\">", StringComparison.Ordinal));
        Browser.Open(page, 1280);
        Assert.NotEqual("taken over", Browser.Page.Title);
        List<string> refused = [.. Browser.Console().Where(line => line.Contains("Content Security Policy", StringComparison.Ordinal))];
        Assert.Contains(refused, line => line.Contains("script", StringComparison.Ordinal));
        Assert.Contains(refused, line => line.Contains("127.0.0.1", StringComparison.Ordinal));
    }

    [SkippableFact]
    public void Presses_OfTheDemoArePresent()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of("library"), 1280);
        string[] truth = [.. JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(Repository.Demo("library.truth.json"))).GetProperty("presses").EnumerateArray().Select(press => press.GetProperty("asks").GetString()!)];
        Assert.True(truth.Length >= 40, $"{truth.Length} presses in the truth");
        string rows = Browser.Ask<string>("return [...document.querySelectorAll('#presses tbody tr')].map(row => [...row.children].map(cell => cell.textContent).join(' | ')).join('\\n')");
        int shown = rows.Split('\n').Length;
        Assert.InRange(shown, truth.Length - 5, truth.Length);      // the demo has a spell in which the receiver hears nothing
        Assert.Contains("| 18:47:02 | NONE | staff desk panel | Reading room | off | 0 of 6 |", rows, StringComparison.Ordinal);
        Assert.Equal(shown, Browser.Ask<long>("return document.querySelectorAll('#timeline .place.press').length"));
    }

    [SkippableFact]
    public void Hover_TellsWhatAMarkMeans()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of("library"), 1280);
        new Actions(Browser.Page).MoveToElement(Browser.Page.FindElement(By.CssSelector("#timeline .place.press.bad path"))).Perform();
        IWebElement tip = Browser.Page.FindElement(By.CssSelector(".tip"));
        Assert.True(tip.Displayed);
        Assert.Contains("NONE, 0 of 2", tip.Text, StringComparison.Ordinal);
        new Actions(Browser.Page).MoveToElement(Browser.Page.FindElement(By.TagName("h1"))).Perform();
        Assert.False(tip.Displayed);
        new Actions(Browser.Page).MoveToElement(Browser.Page.FindElement(By.CssSelector("#hops .link"))).Perform();
        Assert.True(!tip.Displayed || tip.Text.Contains("relayed", StringComparison.Ordinal));
    }

    [SkippableFact]
    public void Zoom_SpreadsTheTimelineAndComesBack()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of("library"), 1280);
        string whole = Places(), ticks = Ticks();
        Button("#timeline-chart", "+").Click();
        Button("#timeline-chart", "+").Click();
        Assert.Equal("4", Zoomed("#timeline-chart"));
        Assert.NotEqual(whole, Places());
        Assert.NotEqual(ticks, Ticks());
        Assert.True(Browser.Ask<long>("return document.querySelectorAll('#timeline .place.press[visibility=hidden]').length") > 0);
        Button("#timeline-chart", "\u2192").Click();
        Browser.Page.FindElement(By.CssSelector("#timeline-chart .drawing")).SendKeys("0");
        Assert.Equal("1", Zoomed("#timeline-chart"));
        Assert.Equal(whole, Places());
        Assert.Equal(ticks, Ticks());
        Browser.Page.FindElement(By.CssSelector("#timeline-chart .drawing")).SendKeys("+");
        Assert.Equal("2", Zoomed("#timeline-chart"));
        Button("#hop-chart", "+").Click();
        Assert.Equal("2", Zoomed("#hop-chart"));
        string middle = Browser.Page.FindElement(By.CssSelector("#hop-chart svg")).GetDomAttribute("viewBox") ?? "";
        Button("#hop-chart", "\u2193").Click();
        Assert.NotEqual(middle, Browser.Page.FindElement(By.CssSelector("#hop-chart svg")).GetDomAttribute("viewBox"));
        Button("#hop-chart", "Whole").Click();
        Assert.StartsWith("0 0 800 ", Browser.Page.FindElement(By.CssSelector("#hop-chart svg")).GetDomAttribute("viewBox"), StringComparison.Ordinal);
    }

    [SkippableTheory]
    [InlineData("library", 360), InlineData("library", 1280), InlineData("boathouse", 360), InlineData("boathouse", 1280)]
    public void Page_IsNeverWiderThanTheScreen(string demo, int width)
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of(demo), width);
        Browser.Picture($"{demo}-{width}", width);
        Assert.Equal(width, Browser.Ask<long>("return document.documentElement.scrollWidth"));
        // Words that stand outside of what scrolls by itself are never cut off.
        Assert.Equal("", Browser.Ask<string>("return [...document.querySelectorAll('h1,h2,h3,h4,p,li,dt,dd,figcaption,button')].filter(one => one.getBoundingClientRect().right > innerWidth + 0.5).map(one => one.textContent).join('; ')"));
    }

    [SkippableFact]
    public void HostileNames_AreTextAndStayOnTheScreen()
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.WithHostileNames(), 360);
        Browser.Picture("hostile-360", 360);
        Assert.Empty(Browser.Console());
        Assert.Single(Browser.Requests(), url => !url.StartsWith("data:,", StringComparison.Ordinal));
        Assert.Equal(360, Browser.Ask<long>("return document.documentElement.scrollWidth"));
        Assert.Equal(1, Browser.Ask<long>("return document.scripts.length"));
        string presses = Browser.Ask<string>("return document.querySelector('#presses').textContent");
        Assert.All(DemoPages.HostileNames.Take(3), name => Assert.Contains(name, presses, StringComparison.Ordinal));
        new Actions(Browser.Page).MoveToElement(Browser.Page.FindElement(By.CssSelector("#timeline .place.press path"))).Perform();
        Assert.Empty(Browser.Page.FindElements(By.CssSelector(".tip *")));      // what hovering tells is text as well
    }

    [SkippableTheory]
    [InlineData("library"), InlineData("boathouse")]
    public void Paper_HoldsEverything(string demo)
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of(demo), PaperWidth, dark: true, media: "print");
        Assert.Equal("", Browser.Ask<string>("return [...document.querySelectorAll('main *')].filter(one => one.getBoundingClientRect().right > innerWidth + 0.5 && !one.closest('svg svg')).map(one => one.tagName + ' ' + one.textContent.slice(0, 40)).join('; ')"));
        Assert.Equal("none", Browser.Ask<string>("return getComputedStyle(document.querySelector('nav')).display"));
        Assert.Equal("rgb(255, 255, 255)", Browser.Ask<string>("return getComputedStyle(document.body).backgroundColor"));
        Browser.Picture($"{demo}-paper", PaperWidth);
        byte[] printed = Browser.Print();
        Assert.Equal("%PDF-"u8.ToArray(), printed[..5]);
        if (Environment.GetEnvironmentVariable("MESHTRACE_PICTURES") is { Length: > 0 } folder)
            File.WriteAllBytes(Path.Combine(folder, demo + ".pdf"), printed);
    }

    [SkippableTheory]
    [InlineData("library", false, 1280), InlineData("library", true, 360), InlineData("boathouse", true, 1280), InlineData("boathouse", false, 360)]
    public void Accessibility_IsWithoutAFault(string demo, bool dark, int width)
    {
        Skip.IfNot(Chromium.IsInstalled, Missing);
        Browser.Open(pages.Of(demo), width, dark);
        if (dark)
            Browser.Picture($"{demo}-{width}-dark", width);
        Browser.Ask<object?>(new BundledAxeScriptProvider().GetScript() + "; return null;");
        JsonElement result = JsonSerializer.Deserialize<JsonElement>(Browser.AskLater(
            "() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'], resultTypes: ['violations'] }).then(result => JSON.stringify({ passes: result.passes.map(rule => rule.id), violations: result.violations.map(rule => rule.id + ': ' + rule.nodes.map(node => node.html + ' ' + node.failureSummary).join(' | ')) }))"));
        Assert.True(result.GetProperty("violations").GetArrayLength() == 0, string.Join('\n', result.GetProperty("violations").EnumerateArray().Select(violation => violation.GetString())));
        // A check that looked at nothing finds nothing.
        Assert.Contains("color-contrast", result.GetProperty("passes").EnumerateArray().Select(rule => rule.GetString()));
        Assert.Contains("scope-attr-valid", result.GetProperty("passes").EnumerateArray().Select(rule => rule.GetString()));
    }

    private IWebElement Button(string figure, string sign) =>
        Browser.Page.FindElements(By.CssSelector(figure + " .tools button")).Single(button => button.Text == sign);

    private string Zoomed(string figure) => Browser.Page.FindElement(By.CssSelector(figure + " svg")).GetDomAttribute("data-zoomed") ?? "";

    private string Places() => Browser.Ask<string>("return [...document.querySelectorAll('#timeline .place.press')].map(mark => mark.getAttribute('transform').replace(/\\.\\d+/g, '')).join(' ')");

    private string Ticks() => Browser.Ask<string>("return [...document.querySelectorAll('#timeline .ticks text')].map(text => text.textContent).join(' ')");
}

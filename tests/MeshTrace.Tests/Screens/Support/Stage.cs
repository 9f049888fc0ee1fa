using System.Text;
using MeshTrace.Screens;
using MeshTrace.Screens.Views;
using Terminal.Gui.App;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;
using Terminal.Gui.Testing;
using Terminal.Gui.Time;

namespace MeshTrace.Tests.Screens.Support;

/// <summary>The screens on a terminal that exists only in memory: keys go in by the driver, what is drawn is read back from it.</summary>
internal sealed class Stage : IDisposable
{
    private readonly IApplication _application;
    private readonly BrowseView _view;
    private readonly SessionToken? _session;

    public Stage(Browser browser, int columns, int lines, bool colour = true)
    {
        _application = Application.Create(new VirtualTimeProvider());
        _application.Init(DriverRegistry.Names.ANSI);
        _application.Driver!.SetScreenSize(columns, lines);
        _view = new BrowseView(browser, new Palette(colour));
        _session = _application.Begin(_view);
        _application.LayoutAndDraw(true);
    }

    public IDriver Driver => _application.Driver!;

    public BrowseView View => _view;

    public void Press(params ReadOnlySpan<Key> keys)
    {
        foreach (Key key in keys)
        {
            _application.InjectKey(key);
            _application.LayoutAndDraw();
        }
    }

    /// <summary>Presses a key, and tells how many octets went to the terminal for it.</summary>
    public int Octets(Key key)
    {
        Press(key);
        return Encoding.UTF8.GetByteCount(Driver.GetOutput().GetLastOutput());
    }

    public void Click(int x, int y)
    {
        _application.InjectSequence(InputInjectionExtensions.LeftButtonClick(new System.Drawing.Point(x, y)));
        _application.LayoutAndDraw();
    }

    /// <summary>The lines as drawn; a wide character counts once.</summary>
    public string[] Lines()
    {
        Terminal.Gui.Drawing.Cell[,] contents = Driver.Contents!;
        var lines = new string[contents.GetLength(0)];
        for (int y = 0; y < lines.Length; y++)
        {
            var line = new StringBuilder();
            for (int x = 0; x < contents.GetLength(1);)
            {
                string grapheme = contents[y, x].Grapheme;
                line.Append(grapheme);
                x += Math.Max(1, Reports.Words.DisplayWidth.Of(grapheme));
            }
            lines[y] = line.ToString().TrimEnd();
        }
        return lines;
    }

    public string Text() => string.Join('\n', Lines());

    public void Dispose()
    {
        if (_session is not null)
            _application.End(_session);
        _view.Dispose();
        _application.Dispose();
    }
}

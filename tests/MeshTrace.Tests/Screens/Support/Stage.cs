using System.Text;
using MeshTrace.Screens;
using MeshTrace.Screens.Views;
using Terminal.Gui.Drivers;
using Terminal.Gui.Input;

namespace MeshTrace.Tests.Screens.Support;

/// <summary>The screens on a terminal that exists only in memory: what a terminal would send for a key goes in, what is drawn is read back.</summary>
internal sealed class Stage : IDisposable
{
    private readonly FrameOutput _output = new();
    private readonly ManualTime _time = new();
    private readonly KeyDecoder _keys;

    public Stage(Browser browser, int columns, int lines, bool colour = true)
    {
        View = new BrowseView(browser, new Palette(colour));
        _keys = new KeyDecoder(_time, View.Take, View.Take, View.Paste);
        Resize(columns, lines);
    }

    public OutputBufferImpl Buffer { get; } = new();

    public BrowseView View { get; }

    public void Resize(int columns, int lines)
    {
        Buffer.SetSize(columns, lines);
        View.SetNeedsDraw();
        Draw();
    }

    public void Press(params ReadOnlySpan<Key> keys)
    {
        foreach (Key key in keys)
            Send(AnsiKeyboardEncoder.Encode(key));
    }

    /// <summary>Sends octets as a terminal does, and lets the time pass that tells an ESC from the beginning of something else.</summary>
    public void Send(string octets)
    {
        foreach (char octet in octets)
            _keys.Letters.Enqueue(octet);
        _keys.Decode();
        _time.Pass(KeyDecoder.EscapeWait);
        _keys.Decode();
        Draw();
    }

    /// <summary>Presses a key, and tells how many octets went to the terminal for it.</summary>
    public int Octets(Key key)
    {
        Press(key);
        return Encoding.UTF8.GetByteCount(_output.GetLastOutput());
    }

    /// <summary>Presses and releases the left button (xterm control sequences, SGR mouse mode).</summary>
    public void Click(int x, int y) => Send($"\e[<0;{x + 1};{y + 1}M\e[<0;{x + 1};{y + 1}m");

    /// <summary>The lines as drawn; a wide character counts once.</summary>
    public string[] Lines()
    {
        Terminal.Gui.Drawing.Cell[,] contents = Buffer.Contents!;
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
        _keys.Dispose();
        _output.Dispose();
    }

    private void Draw()
    {
        if (!View.NeedsDraw)
            return;
        View.Draw(Buffer);
        _output.Write(Buffer);
    }
}

using System.Text;

namespace MeshTrace.Screens;

/// <summary>A question on the last line: words are typed and taken with Enter, or one of some letters is chosen.</summary>
internal sealed class Prompt(string asks, string text, Func<string, string?> done, string? letters = null)
{
    private const int Longest = 200;
    private readonly StringBuilder _text = new(text);

    public string Asks => asks;
    public string Text => _text.ToString();

    /// <summary>True where one letter answers it.</summary>
    public bool IsChoice => letters is not null;

    /// <summary>Takes a key. True once the question is answered or given up; <paramref name="says"/> is then what to tell, or null.</summary>
    public bool Take(Stroke stroke, out string? says)
    {
        says = null;
        switch (stroke.Motion)
        {
            case Motion.Escape:
                return true;
            case Motion.Enter when !IsChoice:
                says = done(Text.Trim());
                return true;
            case Motion.Back:
                if (_text.Length > 0)
                    _text.Length -= _text.Length > 1 && char.IsLowSurrogate(_text[^1]) ? 2 : 1;
                return IsChoice;
            case Motion.None when IsChoice:
                if (!letters!.Contains(stroke.Letter.ToString(), StringComparison.Ordinal))
                    return true;
                says = done(stroke.Letter.ToString());
                return true;
            case Motion.None when _text.Length < Longest && !Rune.IsControl(stroke.Letter):
                _text.Append(stroke.Letter.ToString());
                return false;
            default:
                return false;
        }
    }
}

using MeshTrace.Reports.Words;
using Terminal.Gui.Drawing;
using Attribute = Terminal.Gui.Drawing.Attribute;

namespace MeshTrace.Screens.Views;

/// <summary>
/// Colours of the terminal's own sixteen on its own background, so that light and dark ones both stay legible; or none, where NO_COLOR asks for that.
/// Every mark is also a word.
/// </summary>
internal sealed class Palette(bool colour)
{
    public Attribute Of(Tone tone, bool selected)
    {
        TextStyle style = tone switch
        {
            Tone.Strong or Tone.Bad => TextStyle.Bold,
            Tone.Quiet when !colour => TextStyle.None,
            Tone.Quiet => TextStyle.Faint,
            _ => TextStyle.None,
        };
        if (selected)
            style = (style & ~TextStyle.Faint) | TextStyle.Reverse;
        return new Attribute(colour ? ForegroundOf(tone) : Color.None, Color.None, style);
    }

    private static Color ForegroundOf(Tone tone) => tone switch
    {
        Tone.Good => new Color(ColorName16.Green),
        Tone.Mixed => new Color(ColorName16.Magenta),       // yellow cannot be read on white
        Tone.Bad => new Color(ColorName16.Red),
        _ => Color.None,
    };
}

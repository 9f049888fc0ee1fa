namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>A layout text (docs/layout-syntax.md) cannot be understood.</summary>
public sealed class LayoutFormatException : FormatException
{
    public LayoutFormatException(string layout, int position, string expected)
        : base($"layout '{layout}', character {position + 1}: {expected}")
    {
        Layout = layout;
        Position = position;
        Expected = expected;
    }

    public string Layout { get; }

    /// <summary>Character offset in the layout.</summary>
    public int Position { get; }

    public string Expected { get; }
}

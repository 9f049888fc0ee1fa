using System.Text;

namespace MeshTrace.Screens;

/// <summary>Keys that are no letters, without any terminal's words for them.</summary>
internal enum Motion : byte
{
    None,
    Up,
    Down,
    Left,
    Right,
    PageUp,
    PageDown,
    Home,
    End,
    Enter,
    Back,
    Escape,
    Tab,
}

/// <summary>One key: a motion, or else a letter.</summary>
internal readonly record struct Stroke(Motion Motion, Rune Letter)
{
    public static implicit operator Stroke(Motion motion) => new(motion, default);
    public static implicit operator Stroke(char letter) => new(Motion.None, new Rune(letter));

    public bool Is(char letter) => Motion == Motion.None && Letter.Value == letter;
}

/// <summary>What a key does, as the last line and the help tell it.</summary>
/// <param name="Key">How the key is called.</param>
/// <param name="Short">One or two words for the last line; empty: only in the help.</param>
/// <param name="Says">A phrase for the help.</param>
internal readonly record struct KeyWord(string Key, string Short, string Says);

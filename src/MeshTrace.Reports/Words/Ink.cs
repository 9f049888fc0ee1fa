namespace MeshTrace.Reports.Words;

/// <summary>What a colour stands for; the words beside it always say the same.</summary>
public enum Tone : byte
{
    Plain,
    Strong,
    Quiet,
    Good,
    Mixed,
    Bad,
}

/// <summary>Colours by the terminal's own palette (ECMA-48 SGR), or none.</summary>
public readonly record struct Ink(bool Colour)
{
    private const string Reset = "\e[0m";

    public string Paint(string text, Tone tone) => !Colour || tone == Tone.Plain || text.Length == 0 ? text : Code(tone) + text + Reset;

    private static string Code(Tone tone) => tone switch
    {
        Tone.Strong => "\e[1m",
        Tone.Quiet => "\e[2m",
        Tone.Good => "\e[32m",
        Tone.Mixed => "\e[33m",
        _ => "\e[1;31m",
    };
}

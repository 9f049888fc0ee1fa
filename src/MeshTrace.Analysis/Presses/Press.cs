using System.Runtime.InteropServices;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Presses;

/// <summary>How far a press got.</summary>
public enum PressOutcome : byte
{
    /// <summary>Cannot be told from this capture.</summary>
    Unknown,
    All,
    Some,
    None,
}

/// <summary>An element that answered a press.</summary>
/// <param name="Element">Its unicast address.</param>
/// <param name="Message">Row of its Status.</param>
/// <param name="TimeNs">When it was heard.</param>
public readonly record struct PressAnswer(MeshAddress Element, int Message, long TimeNs);

/// <summary>One user action: a transaction that asks servers to change.</summary>
public sealed class Press
{
    public required long TimeNs { get; init; }
    public required MeshAddress Src { get; init; }
    public required MeshAddress Dst { get; init; }
    public required byte Tid { get; init; }
    public required Opcode Opcode { get; init; }

    /// <summary>The standard's name of the request.</summary>
    public required string Name { get; init; }

    /// <summary>In plain words: "on", "off", "level N", "level by N", "scene N", "lightness N", else the message's name.</summary>
    public required string Asks { get; init; }
    public required bool Acknowledged { get; init; }

    /// <summary>Rows of the requests, the first one first.</summary>
    public List<int> Messages { get; } = new(1);

    /// <summary>Lowest TTL heard over its floods.</summary>
    public byte LastTtl { get; internal set; }

    /// <summary>Highest minus lowest TTL heard.</summary>
    public int HopsSeen { get; internal set; }

    /// <summary>Elements that should act, or null where nobody can know.</summary>
    public IReadOnlyList<MeshAddress>? Expected { get; internal set; }
    public List<PressAnswer> Answers { get; } = [];
    public PressOutcome Outcome { get; internal set; }

    /// <summary>First request heard to last first answer, or null.</summary>
    public double? LatencyMs { get; internal set; }

    /// <summary>Rows of its findings.</summary>
    public List<int> Findings { get; } = [];

    /// <summary>True if an element answered it.</summary>
    internal bool IsAnsweredBy(MeshAddress element)
    {
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(Answers))
            if (answer.Element == element)
                return true;
        return false;
    }
}

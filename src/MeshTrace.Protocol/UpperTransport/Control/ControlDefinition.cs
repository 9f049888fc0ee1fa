using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.UpperTransport.Control;

/// <summary>One control message: a row of control-messages.tsv.</summary>
public sealed class ControlDefinition
{
    private Layout? _layout;

    internal ControlDefinition(byte opcode, string name, string group, string layoutText, string source)
    {
        Opcode = opcode;
        Name = name;
        Group = group;
        LayoutText = layoutText;
        Source = source;
    }

    /// <summary>The 7-bit opcode of the lower transport PDU.</summary>
    public byte Opcode { get; }

    /// <summary>The standard's name.</summary>
    public string Name { get; }

    /// <summary><c>Friendship</c>, <c>Heartbeat</c>, <c>Directed forwarding</c>, or <c>Lower transport</c> for Segment Acknowledgment.</summary>
    public string Group { get; }

    /// <summary>The fields in the syntax of docs/layout-syntax.md, big-endian; <c>-</c> for none.</summary>
    public string LayoutText { get; }

    /// <summary>Document and section.</summary>
    public string Source { get; }

    internal Layout Layout => _layout ??= LayoutParser.Parse(LayoutText, Name, Group);

    public override string ToString() => $"0x{Opcode:X2} {Name}";
}

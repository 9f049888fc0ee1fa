using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>One access message: a row of access-messages.tsv, or of the user's vendor table.</summary>
public sealed class MessageDefinition
{
    private Layout? _layout;

    internal MessageDefinition(Opcode opcode, string name, string layoutText)
    {
        Opcode = opcode;
        Name = name;
        LayoutText = layoutText;
    }

    public Opcode Opcode { get; }

    /// <summary>The standard's name.</summary>
    public string Name { get; }

    /// <summary>The family of models that it belongs to: <c>Config</c>, <c>Generic OnOff</c>; <c>Vendor</c> for rows of a vendor table.</summary>
    public string Group { get; internal init; } = "Vendor";

    /// <summary>Valid with a device key. Opcodes Aggregator messages are valid with both kinds of key, vendor messages too.</summary>
    public bool UsesDeviceKey { get; internal init; } = true;

    /// <summary>Valid with an application key.</summary>
    public bool UsesApplicationKey { get; internal init; } = true;

    /// <summary>The standard expects an answer: <see cref="Response"/>.</summary>
    public bool Acknowledged => Response is not null;

    /// <summary>Opcode of the Status that answers it, or null.</summary>
    public Opcode? Response { get; internal init; }

    /// <summary>SIG models that receive it as servers, by number; empty for Status messages and vendor messages.</summary>
    public IReadOnlyList<ushort> ServerModels { get; internal init; } = [];

    /// <summary>It carries a transaction identifier (Mesh Model 1.1 §3.3), so that its repetitions are one press.</summary>
    public bool HasTid { get; internal init; }

    /// <summary>Document and section.</summary>
    public string Source { get; internal init; } = "";

    /// <summary>The fields in the syntax of docs/layout-syntax.md; <c>-</c> for none.</summary>
    public string LayoutText { get; }

    /// <summary>Parsed when first used. Two threads that come at once parse the same.</summary>
    internal Layout Layout => _layout ??= LayoutParser.Parse(LayoutText, Name, Group);

    public override string ToString() => $"{Opcode} {Name}";
}

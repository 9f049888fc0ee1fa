using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>A mesh device property: a row of device-properties.tsv.</summary>
public sealed class DevicePropertyDefinition
{
    private Layout? _layout;

    internal DevicePropertyDefinition(ushort number, string name, string characteristic, int octets, string layoutText)
    {
        Number = number;
        Name = name;
        Characteristic = characteristic;
        Octets = octets;
        LayoutText = layoutText;
    }

    /// <summary>Property identifier.</summary>
    public ushort Number { get; }

    public string Name { get; }

    /// <summary>The characteristic whose value it has.</summary>
    public string Characteristic { get; }

    /// <summary>Size of the value.</summary>
    public int Octets { get; }

    /// <summary>The value's fields in the syntax of docs/layout-syntax.md, with units.</summary>
    public string LayoutText { get; }

    internal Layout Layout => _layout ??= LayoutParser.Parse(LayoutText, Name, "Device property");
}

using MeshTrace.Protocol.Att;

namespace MeshTrace.Analysis.Connections;

/// <summary>
/// What was heard of the attributes of one side of a connection: services and the types of the values that matter to mesh (Core Specification, volume 3
/// part G §4.4 to §4.7). Answers say little by themselves, so the request before them is kept.
/// </summary>
internal sealed class AttributeServer
{
    /// <summary>Protect memory against servers that never end.</summary>
    private const int MostServices = 64, MostTypes = 256, LongestPrepared = AttPdu.LongestValue;

    private readonly Dictionary<ushort, ushort?> _types = [];
    private AttOpcode _asked;
    private ushort? _askedType, _askedValue;
    private byte[] _prepared = [];
    private int _preparedLength;
    private ushort _preparedHandle;
    private bool _preparedWhole;

    /// <summary>Its Rx MTU as it told, or null.</summary>
    public int? Mtu { get; set; }

    /// <summary>The type of an attribute: true if discovery told it; the type itself is null for one with 128 bits.</summary>
    public bool TryGetType(ushort handle, out ushort? type) => _types.TryGetValue(handle, out type);

    /// <summary>A request to this server.</summary>
    public void Ask(in AttPdu pdu)
    {
        _asked = pdu.Opcode;
        (_askedType, _askedValue) = (null, null);
        if (AttRange.TryRead(in pdu, out AttRange range, out _))
            (_askedType, _askedValue) = (range.Type, AttUuid.ShortForm(range.Value));
    }

    /// <summary>An answer of this server.</summary>
    public void Answer(in AttPdu pdu, List<ServiceHeard> services)
    {
        if (!AttAnswer.TryRead(in pdu, out AttAnswer answer, out _))
            return;
        while (answer.TryReadNext(out AttEntry entry))
        {
            switch (pdu.Opcode)
            {
                case AttOpcode.ReadByGroupTypeRsp when Asked(AttOpcode.ReadByGroupTypeReq, AttUuid.PrimaryService):
                    AddService(services, new ServiceHeard(AttUuid.ShortForm(entry.Value), entry.Handle, entry.EndHandle));
                    break;
                case AttOpcode.FindByTypeValueRsp when Asked(AttOpcode.FindByTypeValueReq, AttUuid.PrimaryService):
                    AddService(services, new ServiceHeard(_askedValue, entry.Handle, entry.EndHandle));
                    break;
                case AttOpcode.ReadByTypeRsp when Asked(AttOpcode.ReadByTypeReq, AttUuid.Characteristic):
                    if (entry.TryReadCharacteristic(out ushort valueHandle, out ushort? uuid))
                        AddType(valueHandle, uuid);
                    break;
                case AttOpcode.FindInformationRsp:
                    AddType(entry.Handle, AttUuid.ShortForm(entry.Value));
                    break;
            }
        }
    }

    /// <summary>A part of a long value. Parts come in order; one that does not continue the parts before makes the value unusable.</summary>
    public void Prepare(in AttPdu pdu)
    {
        if (pdu.Offset == 0)
            (_preparedHandle, _preparedLength, _preparedWhole) = (pdu.Handle, 0, true);
        _preparedWhole &= pdu.Handle == _preparedHandle && pdu.Offset == _preparedLength && _preparedLength + pdu.Value.Length <= LongestPrepared;
        if (!_preparedWhole)
            return;
        if (_prepared.Length == 0)
            _prepared = new byte[LongestPrepared];
        pdu.Value.CopyTo(_prepared.AsSpan(_preparedLength));
        _preparedLength += pdu.Value.Length;
    }

    /// <summary>The value that was prepared, if it is to be written and all its parts were heard.</summary>
    public bool Execute(in AttPdu pdu, out ushort handle, out ReadOnlySpan<byte> value)
    {
        bool whole = _preparedWhole && _preparedLength > 0 && pdu.Executes;
        handle = _preparedHandle;
        value = whole ? _prepared.AsSpan(0, _preparedLength) : default;
        DropPrepared();
        return whole;
    }

    public void DropPrepared() => (_preparedLength, _preparedWhole) = (0, false);

    private bool Asked(AttOpcode opcode, ushort type) => _asked == opcode && _askedType == type;

    private void AddType(ushort handle, ushort? type)
    {
        if (_types.Count < MostTypes || _types.ContainsKey(handle))
            _types[handle] = type;
    }

    private static void AddService(List<ServiceHeard> services, ServiceHeard service)
    {
        if (services.Count < MostServices && !services.Contains(service))
            services.Add(service);
    }
}
